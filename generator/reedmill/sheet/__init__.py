"""The printed sheet: a score through abjad and LilyPond to PDF."""
