"""The hub: a drill on one harp as exact notes, and what can be derived from them."""
