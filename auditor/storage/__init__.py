"""Parquet datasets, atomically."""
