"""The base of every room: errors, source spans, foreign text, files read and written."""
