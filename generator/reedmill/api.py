"""What other programs may rely on; every other module is internal.

>>> from reedmill import api
>>> [drill] = api.find_drills("Home from every rung")
>>> score = api.expand(drill, api.Harp.parse("C"), api.Position(2))
>>> [note.pitch.name for note in score.notes[:4]]
['G4', 'B4', 'G4', 'Bb4']

``api.make([score], Path("output"))`` then writes the sheet, tones, MIDI file and tab.

A band under it:

>>> over = api.accompanied(score, api.Accompaniment("Twelve bars"))
>>> over.bars, [chord.symbol(over.key) for _, chord in over.band.chords[:3]]
(12, ['G7', 'C7', 'G7'])
"""

from reedmill.band.accompany import Accompaniment, accompanied
from reedmill.band.arranger import arrange
from reedmill.band.shelf import find_feel, find_form, shipped_feels, shipped_forms
from reedmill.base.errors import InputError, PatternError, ReedmillError, RenderError
from reedmill.expand import expand
from reedmill.formats.data import chord_roles_data, notes_data, roles_data, score_data
from reedmill.formats.musicxml_reader import ReadMusic, read_musicxml
from reedmill.harp import Harp, Reed, layout_named
from reedmill.language import Drill, parse, parse_file
from reedmill.library import Wanted, drills_data, find_drills, search
from reedmill.make.backing import MadeBacking, make_backing
from reedmill.make.material import Made, make
from reedmill.practice.practice import Click, Practice, Recording
from reedmill.score.arrangement import Arrangement
from reedmill.score.score import Note, Score
from reedmill.theory.chords import Chord
from reedmill.theory.intonation import EQUAL, JUST_5, JUST_7
from reedmill.theory.positions import Position

__all__ = [
    "EQUAL",
    "JUST_5",
    "JUST_7",
    "Accompaniment",
    "Arrangement",
    "Chord",
    "Click",
    "Drill",
    "Harp",
    "InputError",
    "Made",
    "MadeBacking",
    "Note",
    "PatternError",
    "Position",
    "Practice",
    "ReadMusic",
    "Recording",
    "Reed",
    "ReedmillError",
    "RenderError",
    "Score",
    "Wanted",
    "accompanied",
    "arrange",
    "chord_roles_data",
    "drills_data",
    "expand",
    "find_drills",
    "find_feel",
    "find_form",
    "layout_named",
    "make",
    "make_backing",
    "notes_data",
    "parse",
    "parse_file",
    "read_musicxml",
    "roles_data",
    "score_data",
    "search",
    "shipped_feels",
    "shipped_forms",
]
