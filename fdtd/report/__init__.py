"""One self-contained HTML page from result files: the answer in words first, then what it rests on."""
