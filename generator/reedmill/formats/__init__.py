"""Files other programs read: MIDI, MusicXML, text tab, JSON; each a function of a Score."""
