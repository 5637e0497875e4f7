"""In frequency: eigenmodes on the same cells as the simulation."""
