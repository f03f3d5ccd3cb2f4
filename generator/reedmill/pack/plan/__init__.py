"""The plan of a pack: a course as files to be made, and why each is made."""
