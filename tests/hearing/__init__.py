"""How well takes are heard: takes of known truth, and what is made of them."""
