"""A pack built, forecast and reported."""
