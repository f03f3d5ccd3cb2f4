"""Checks of drills, forms, feels and courses: what making would refuse, without making."""
