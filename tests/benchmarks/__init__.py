"""Benchmarks: reported, never asserted."""
