"""What every room stands on: errors, source spans, foreign text, files read and written."""
