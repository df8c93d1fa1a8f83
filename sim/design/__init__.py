"""Numbers derived from a rig before any run: what a machine can reach, and what limits it."""
