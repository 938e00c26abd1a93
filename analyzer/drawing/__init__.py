"""DXF to contours and facts; the only reader of DXF."""
