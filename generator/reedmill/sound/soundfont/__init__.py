"""A SoundFont's preset as the voice, measured and put right."""
