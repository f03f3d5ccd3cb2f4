"""Lesson packs: a whole course of practice material, built at once."""
