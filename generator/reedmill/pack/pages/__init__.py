"""The pages of a book besides its sheets."""
