"""The sound of the band, from a SoundFont or built in."""
