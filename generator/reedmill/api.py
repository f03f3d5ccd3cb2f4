"""What other programs may rely on; every other module is internal.

>>> from reedmill import api
>>> [drill] = api.find_drills("Home from every rung")
>>> score = api.expand(drill, api.Harp.parse("C"), api.Position(2))
>>> [note.pitch.name for note in score.notes[:4]]
['G4', 'B4', 'G4', 'Bb4']

``api.make([score], Path("output"))`` then writes the sheet, tones, MIDI file and tab.
"""

from reedmill.errors import InputError, PatternError, ReedmillError, RenderError
from reedmill.expand import expand
from reedmill.formats.data import notes_data, roles_data, score_data
from reedmill.formats.musicxml_reader import ReadMusic, read_musicxml
from reedmill.harp import Harp, Reed, layout_named
from reedmill.language import Drill, parse, parse_file
from reedmill.library import Wanted, drills_data, find_drills, search
from reedmill.make import Made, make
from reedmill.score import Note, Score
from reedmill.theory.intonation import EQUAL, JUST_5, JUST_7
from reedmill.theory.positions import Position

__all__ = [
    "EQUAL",
    "JUST_5",
    "JUST_7",
    "Drill",
    "Harp",
    "InputError",
    "Made",
    "Note",
    "PatternError",
    "Position",
    "ReadMusic",
    "Reed",
    "ReedmillError",
    "RenderError",
    "Score",
    "Wanted",
    "drills_data",
    "expand",
    "find_drills",
    "layout_named",
    "make",
    "notes_data",
    "parse",
    "parse_file",
    "read_musicxml",
    "roles_data",
    "score_data",
    "search",
]
