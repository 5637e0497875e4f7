"""What the listener hears: resonances, decay, the tail after a note and levels, worked out from a finished run."""
