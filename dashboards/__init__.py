"""The dashboard: pages served on this machine."""
