"""Strings: vibration, material, winding, tension."""
