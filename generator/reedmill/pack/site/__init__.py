"""The pages that open a pack, its playlists and its manifest."""
