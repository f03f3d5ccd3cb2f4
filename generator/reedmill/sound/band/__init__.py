"""The band as sound, out of a SoundFont or built in."""
