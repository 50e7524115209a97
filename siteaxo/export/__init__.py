"""Writing results to files."""
