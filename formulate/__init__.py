"""Finds the cheapest house liqueur that hits a target profile, and proves it."""

__version__ = "0.1.0"
