"""What sound does: formulas only; no grid, no files."""
