"""The version, which goes with every result. A module of its own, so that no room needs the face of the package."""

__version__ = "0.1.0"
