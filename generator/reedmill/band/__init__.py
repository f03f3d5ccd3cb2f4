"""The band: forms and feels in plain text, and the arranger that plays them."""
