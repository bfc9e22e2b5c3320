"""The one place where files and steps meet."""
