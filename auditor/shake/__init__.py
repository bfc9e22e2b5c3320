"""Hand shake, the stabiliser and its setting."""
