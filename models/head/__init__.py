"""Tuning heads: the play operator and the geared head."""
