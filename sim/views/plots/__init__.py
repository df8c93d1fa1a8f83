"""Plots of runs and comparisons. Slow to import: whoever draws imports it there."""
