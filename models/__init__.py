"""The world: physics and electronics. No SimPy, no files, no printing."""
