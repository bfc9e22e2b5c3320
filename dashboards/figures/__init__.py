"""Table in, chart out."""
