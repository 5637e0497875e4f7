"""The discrete problem: the only place where scene, physics and grid meet."""
