"""A course file read and checked: lessons, exercises, students, texts."""
