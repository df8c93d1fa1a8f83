"""Defects of a machine, each on one seam of the rig."""

FAULTS = {
    "octave-low": "models.faults.octave:OctaveLow",
}
"""Where each kind of fault lives, by the name that it goes by in rig files."""
