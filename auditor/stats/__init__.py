"""Intervals, shrinkage, standardisation, fits."""
