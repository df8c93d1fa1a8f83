"""``pegloop unknowns``: which unknown matters most."""
