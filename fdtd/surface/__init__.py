"""What a surface, a device or a unit does to sound by itself, before any room is simulated."""
