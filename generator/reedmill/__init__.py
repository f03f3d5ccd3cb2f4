"""Reedmill: practice material for the ten-hole diatonic harmonica, from a short pattern.

Other programs use ``reedmill.api``.
"""

__version__ = "0.1.0"
