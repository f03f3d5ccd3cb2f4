"""A course as files to be made, books among them, and why each is made."""
