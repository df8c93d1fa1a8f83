"""Hearing: from the plucked string to an estimate of its pitch."""

EARS = {"statistical": "models.hearing.statistical:StatisticalEar"}
