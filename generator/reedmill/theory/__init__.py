"""Pitch, spelling, degrees, positions and intonation: pure, no input or output."""
