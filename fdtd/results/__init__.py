"""On disk: the result file."""
