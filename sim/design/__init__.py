"""What can be said of a rig before it is built: numbers derived from its parts, and how to measure them."""
