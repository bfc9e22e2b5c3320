"""Files in, records out."""
