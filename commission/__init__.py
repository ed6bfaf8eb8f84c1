"""Commissioning of two-wire 24 V a.c. irrigation decoder systems, path by path."""

__version__ = "0.1.0"
