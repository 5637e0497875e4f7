"""Number crunching: arrays and scalars only; imports nothing of ours."""
