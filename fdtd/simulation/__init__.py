"""In time: kernel tables from a Problem, sources and seats, the loop, spectra."""
