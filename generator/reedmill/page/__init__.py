"""The practice page: a drill as one HTML file that plays, listens and shows a bend moving."""
