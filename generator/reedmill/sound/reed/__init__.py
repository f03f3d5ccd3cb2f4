"""The tones in our own reed voice, the drone and the click."""
