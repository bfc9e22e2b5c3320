"""Steadykeep: which manual lens made each frame, and whether the stabiliser was told its focal length."""

__version__ = "0.1.0"
