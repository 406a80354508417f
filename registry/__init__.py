"""Leadline: the registry of record for memorial reefs."""

__version__ = "0.1.0"
