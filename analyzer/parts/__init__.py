"""Contours to parts, and parts to features."""
