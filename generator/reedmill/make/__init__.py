"""Scores and backings to files, each written whole or not at all, and their names."""
