"""Signal tools of every sound: sample time, tones, levels, WAV and tags."""
