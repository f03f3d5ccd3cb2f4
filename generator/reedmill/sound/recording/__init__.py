"""Stems and mixes as files, and finished ones read back."""
