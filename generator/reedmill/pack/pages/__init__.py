"""What a book has besides its sheets."""
