"""What every sound is made with: time in samples, tones, levels, WAV and tags."""
