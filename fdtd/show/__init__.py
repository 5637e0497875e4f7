"""What to look at: figures of rooms and results. The only place that knows matplotlib."""
