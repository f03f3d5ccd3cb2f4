"""Lesson packs: the practice material of a whole course, built at once."""
