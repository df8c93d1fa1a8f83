"""What follows from a rig before any run: facts of every string, rows with a verdict, and what would mend them."""
