"""The port model: what any devices on some faces do, from one simulation of the room with those faces rigid."""
