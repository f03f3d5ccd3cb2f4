"""Scores and backings to files, each whole or not there; their names; tones verified."""
