"""A SoundFont's preset as the voice, its tuning measured and corrected."""
