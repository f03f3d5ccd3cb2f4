"""Stems and mixes as files, and the check that listens to them."""
