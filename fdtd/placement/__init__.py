"""Where to put how many units of which kind: every design scored from one room's matrices. Arrays in, numbers out."""
