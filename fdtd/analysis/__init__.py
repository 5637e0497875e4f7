"""What it means: levels, seat figures, resonances. Arrays in, numbers out."""
