"""Umberkeep: the store-room book and hazard desk of a finishing shop."""

__version__ = "0.1.0"
