"""Exports of what was found."""
