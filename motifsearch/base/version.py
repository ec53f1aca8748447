"""The version of the package, said once."""

__version__ = "0.1.0"
