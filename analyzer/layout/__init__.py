"""Where parts lie; one part alone is a layout of one in its canonical pose."""
