"""Pixels in, numbers out."""
