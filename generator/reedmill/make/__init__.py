"""Scores and backings to files, each whole or not there, and what these are called."""
