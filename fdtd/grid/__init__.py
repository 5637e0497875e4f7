"""Where: coordinates in, geometry numbers out; knows no acoustics and no materials."""
