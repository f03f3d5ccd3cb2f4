"""Stems and mixes as files, and the listening check of them."""
