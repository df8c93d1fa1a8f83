"""Hearing: from the plucked string to an estimate of its pitch."""

EARS = {"statistical": "models.hearing.statistical:StatisticalEar"}
"""Ears that are one part; the signal ear is made of several (``sim/ears.py``)."""
