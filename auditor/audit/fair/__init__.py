"""Like with like: keep rates under the same conditions, and what wrong settings cost."""
