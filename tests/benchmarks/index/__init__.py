"""Benchmarks of the index: run by hand, each prints ratios that were measured side by side in one run."""
