"""burrcast: which gas, what goes wrong where, and how many minutes, before packing."""

from analyzer._version import VERSION as __version__

__all__ = ["__version__"]
