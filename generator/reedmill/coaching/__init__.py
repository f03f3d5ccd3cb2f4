"""Practice chosen from what was heard: estimates, reviews that are due, an evening, a class."""
