"""The hub: a drill on one harp as exact notes, and what is asked of it."""
