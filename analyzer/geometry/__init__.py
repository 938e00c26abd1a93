"""Geometry of chains of lines and arcs: arrays only, nothing of DXF or gas."""
