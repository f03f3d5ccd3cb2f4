"""Braille music: as music21 publishes examples of De Garmo's book, and a file that displays read.

The example is 2-3 of Mary Turner De Garmo, *Introduction to Braille Music Transcription*
(Library of Congress), as music21's own documentation and tests publish it, without octave marks.
"""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import replace
from fractions import Fraction

import music21

from reedmill.formats.braille import braille_lines, brf_bytes
from reedmill.harp import Harp
from reedmill.score.score import AirWay, Breathing, Score
from tunes import score_from

# Eighths in 2/8, as music21 writes its notes: B is B3, b is B4 and c' C5.
EXAMPLE_2_3 = "e e g a g f e g f e d f e c d r e e f f g a b c' a f e d c B c r"
PUBLISHED = """
⠀⠀⠀⠀⠀⠀⠀⠀⠀⠀⠀⠀⠀⠀⠀⠀⠀⠼⠃⠦⠀⠀⠀⠀⠀⠀⠀⠀⠀⠀⠀⠀⠀⠀⠀⠀⠀⠀
⠼⠁⠀⠋⠋⠀⠓⠊⠀⠓⠛⠀⠋⠓⠀⠛⠋⠀⠑⠛⠀⠋⠙⠀⠑⠭⠀⠋⠋⠀⠛⠛⠀⠓⠊⠀⠚⠙
⠀⠀⠊⠛⠀⠋⠑⠀⠙⠚⠀⠙⠭⠣⠅
"""


def example() -> Score:
    """On a low F harp in 2nd position, which is in C."""
    harp = Harp.parse("low F")
    tabs = {harp.midi(reed): reed.tab for reed in harp.reeds()}
    words = [
        "r" if letter == "r" else tabs[music21.pitch.Pitch(_named(letter)).midi]
        for letter in EXAMPLE_2_3.split()
    ]
    return score_from(" ".join(words), harp="low F", position=2, meter=(2, 8), title="Off we go 2")


def _named(letter: str) -> str:
    """In scientific notation: small letters from middle C up, a stroke an octave more."""
    octave = 3 if letter.isupper() else 5 if letter.endswith("'") else 4
    return f"{letter[0].upper()}{octave}"


def test_the_published_example_comes_out_cell_by_cell() -> None:
    def cells(text: str) -> list[str]:
        return [line.strip("\u2800 ") for line in text.strip("\n").split("\n")]

    assert cells("\n".join(braille_lines(example(), octaves=False))) == cells(PUBLISHED)


def test_a_file_is_ascii_braille_of_forty_cells_and_twenty_five_lines() -> None:
    """North American Braille Computer Code: #b8 is 2/8."""
    text = brf_bytes(example()).decode("ascii")
    lines = text.split("\r\n")
    assert lines[0] == ",off we go #b"
    assert lines[1].strip() == "#b8"
    assert all(len(line) <= 40 for line in lines)
    holes = (f"{1 + n * n % 10} -{1 + n * n * n % 7}:1/2 r:1/2" for n in range(900))
    long = score_from(" ".join(holes), title="Long")
    pages = brf_bytes(long).decode("ascii").split("\f")
    assert len(pages) > 2
    assert all(page.count("\r\n") == 25 for page in pages[:-1])


def test_a_title_in_other_letters_is_left_out_and_the_music_made() -> None:
    music = score_from("-2 -3 4:2", title="Domoj")
    other = score_from("-2 -3 4:2", title="Домой")
    assert brf_bytes(music).endswith(brf_bytes(other))


def test_every_key_and_length_of_a_harp_can_be_written() -> None:
    for harp in ("C", "Bb", "F#"):
        for tab in ("-2", "-3'", "6^", "-10", "10''"):
            score = score_from(f"{tab}:1/3 {tab}:1/3 {tab}:1/3 {tab}:6 r:1/2 {tab}:1/8", harp=harp)
            assert brf_bytes(score)
    assert Harp("C")


def test_without_music21_the_answer_says_what_to_install() -> None:
    """In a process of its own, in which music21 cannot be imported."""
    code = (
        "import sys; sys.modules['music21'] = None\n"
        "from tunes import score_from\n"
        "from reedmill.base.errors import RenderError\n"
        "from reedmill.formats.braille import brf_bytes\n"
        "try: brf_bytes(score_from('-2'))\n"
        "except RenderError as error: print(error)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
    )
    assert 'pip install "reedmill[braille]"' in done.stdout


def test_a_slide_is_a_slur_from_its_first_note_to_its_last() -> None:
    """Music Braille Code, 13.2: the slur between two notes is dots 1-4, in ASCII a small c."""
    assert "c" not in brf_bytes(score_from("-3 -3' -2:2", title="")).decode().split("#")[-1]
    assert "c" in brf_bytes(score_from("-3 ~-3' -2:2", title="")).decode().split("#")[-1]


def test_a_breath_is_a_word_after_the_note_it_is_taken_from() -> None:
    """The word sign is dots 3, 4 and 5, ``>`` in ASCII braille."""
    score = score_from("-3:2 -2:2", title="")
    for way in AirWay:
        breath = Breathing(Fraction(2), way, Fraction(1, 2))
        music = brf_bytes(replace(score, breaths=(breath,))).decode()
        assert f'"t>{way.value}' in music, "a half note B, then the word"
        assert music.count(">") == 1
