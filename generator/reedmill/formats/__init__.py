"""Writers of files for other programs (MIDI, MusicXML, text tab, JSON), each from a Score."""
