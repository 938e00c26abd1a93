"""burrcast: which gas, what goes wrong where, and how many minutes, before packing."""

from analyzer._version import __version__

__all__ = ["__version__"]
