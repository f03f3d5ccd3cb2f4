"""Reedmill: practice material for the ten-hole diatonic harmonica, from a short pattern."""

__version__ = "0.1.0"
