"""What can be said of a rig before it is built: its numbers, what would mend it, and how to measure it."""
