"""Backings as files: what three independent MIDI readers find, and the command."""

from __future__ import annotations

import io
import json
import math
import re
from collections import defaultdict
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

import mido
import pretty_midi
import pytest
import soundfile
import symusic
from click.testing import CliRunner, Result

from bands import alone
from reedmill.band.arranger import arrange
from reedmill.band.backing_parser import parse_band
from reedmill.band.feel import BandFeel
from reedmill.band.shelf import find_feel, find_form, shipped_feels, shipped_forms
from reedmill.base.errors import InputError
from reedmill.cli import cli
from reedmill.formats.band_text import backing_text
from reedmill.formats.midi import backing_midi_bytes
from reedmill.harp import Harp
from reedmill.make.backing import make_backing
from reedmill.score.arrangement import Arrangement, Part
from reedmill.theory.positions import Key, Position
from shelf_samples import feels_of_each_kind

G = Key(1, minor=False)
TICKS = 960  # a quarter; read back from the header in each test
FEELS = [feel.title for feel in feels_of_each_kind()]
PERCUSSION = 9  # channel 10 of General MIDI, counted from 0

every_feel = pytest.mark.parametrize("feel", FEELS)


@cache
def played(feel: str, form: str = "Twelve bars", seed: int = 0, key: Key = G) -> Arrangement:
    return arrange(find_form(form), find_feel(feel), key, choruses=2, seed=seed)


@cache
def content(feel: str, form: str = "Twelve bars", seed: int = 0, key: Key = G) -> bytes:
    return backing_midi_bytes(alone(played(feel, form, seed, key)))


def read(raw: bytes) -> mido.MidiFile:
    return mido.MidiFile(file=io.BytesIO(raw), charset="utf-8")


def notes_of(track: mido.MidiTrack) -> list[tuple[int, int, int, int]]:
    """Start, end, key and velocity of each note of a track, in ticks, by mido."""
    now, open_notes, found = 0, defaultdict(list), []
    for message in track:
        now += message.time
        if message.type == "note_on" and message.velocity:
            open_notes[message.note].append((now, message.velocity))
        elif message.type in ("note_on", "note_off"):
            start, velocity = open_notes[message.note].pop(0)
            found.append((start, now, message.note, velocity))
    assert not any(open_notes.values())
    return sorted(found)


# --- the file -------------------------------------------------------------------------


@every_feel
def test_the_tracks_are_what_they_say_and_drums_alone_are_on_channel_10(feel: str) -> None:
    file = read(content(feel))
    assert (file.type, file.ticks_per_beat) == (1, TICKS)
    assert [track.name for track in file.tracks[1:]] == ["Chords", "Bass", "Comp", "Drums"]
    channels = [
        {message.channel for message in track if not message.is_meta} for track in file.tracks
    ]
    assert channels == [set(), set(), {0}, {1}, {PERCUSSION}]
    # General MIDI System Level 1: the percussion key map goes from 35 to 81.
    assert all(35 <= key <= 81 for _, _, key, _ in notes_of(file.tracks[4]))
    programs = [
        [message.program for message in track if message.type == "program_change"]
        for track in file.tracks[2:]
    ]
    assert programs == [[played(feel).program(part)] for part in Part]


@every_feel
@pytest.mark.parametrize("seed", [0, 3])
def test_three_readers_find_the_same_notes_at_the_same_time(feel: str, seed: int) -> None:
    raw = content(feel, seed=seed)
    by_mido = read(raw)
    by_pretty = pretty_midi.PrettyMIDI(io.BytesIO(raw))
    by_symusic = symusic.Score.from_midi(raw)
    tracks = [track for track in by_symusic.tracks if len(track.notes)]
    [tempo] = [m.tempo for m in by_mido.tracks[0] if m.type == "set_tempo"]
    assert len(tracks) == len(by_pretty.instruments) == 3
    for at, part in enumerate(Part):
        found = notes_of(by_mido.tracks[at + 2])
        assert len(found) == len(played(feel, seed=seed).of(part))
        assert found == sorted(
            (n.time, n.time + n.duration, n.pitch, n.velocity) for n in tracks[at].notes
        )
        instrument = by_pretty.instruments[at]
        assert instrument.is_drum == (part is Part.DRUMS)
        heard = sorted((n.start, n.end, n.pitch, n.velocity) for n in instrument.notes)
        for (start, end, key, velocity), pretty in zip(found, heard, strict=True):
            assert pretty[2:] == (key, velocity)
            for tick, seconds in ((start, pretty[0]), (end, pretty[1])):
                assert math.isclose(seconds, tick * tempo / TICKS / 1e6, abs_tol=1e-6)


@every_feel
def test_every_tick_is_rounded_once_from_the_exact_time(feel: str) -> None:
    arrangement = played(feel, seed=9)
    file = read(content(feel, seed=9))
    for at, part in enumerate(Part):
        exact = [
            (
                note.start * 4 * TICKS / arrangement.meter.unit,
                (note.start + note.length) * 4 * TICKS / arrangement.meter.unit,
            )
            for note in arrangement.of(part)
        ]
        found = [(start, end) for start, end, _, _ in notes_of(file.tracks[at + 2])]
        wanted = sorted((round(start), max(round(end), round(start) + 1)) for start, end in exact)
        assert sorted(found) == wanted


def test_a_bar_of_12_8_lasts_four_taps_of_the_foot() -> None:
    raw = content("Slow twelve-eight")
    arrangement = played("Slow twelve-eight")
    seconds = pretty_midi.PrettyMIDI(io.BytesIO(raw)).get_end_time()
    assert math.isclose(seconds, 24 * 4 * 60 / arrangement.tempo_bpm, rel_tol=1e-5)
    [signature] = [m for m in read(raw).tracks[0] if m.type == "time_signature"]
    assert (signature.numerator, signature.denominator) == (12, 8)


def test_chord_symbols_are_markers_where_the_chords_start() -> None:
    """By hand for cross harp on a C harp, the key of G, four beats of 960 ticks a bar."""
    now, found = 0, []
    for message in read(content("Medium shuffle")).tracks[1]:
        now += message.time
        if message.type == "marker":
            found.append((now / TICKS / 4, message.text))
    assert found == [
        (0, "G7"), (4, "C7"), (6, "G7"), (8, "D7"), (9, "C7"), (10, "G7"), (10.5, "C7"),
        (11, "G7"), (11.5, "D7"),
        (12, "G7"), (16, "C7"), (18, "G7"), (20, "D7"), (21, "C7"), (22, "G7"), (22.5, "D7"),
        (23, "G7"),
    ]  # fmt: skip


# --- swing ----------------------------------------------------------------------------


@pytest.mark.parametrize("ratio", ["1 to 1", "3 to 2", "5 to 3", "2 to 1", "3 to 1"])
def test_the_swing_measured_from_the_file_is_the_one_that_was_written(ratio: str) -> None:
    first, _, second = ratio.split()
    [feel] = parse_band(f'feel "x"\n swing {ratio}\n drums ride on 1 1& 2 2& 3 3& 4 4&')
    assert isinstance(feel, BandFeel)
    raw = backing_midi_bytes(alone(arrange(find_form("Twelve bars"), feel, G, choruses=2)))
    rides = [start for start, _, key, _ in notes_of(read(raw).tracks[4]) if key == 51]
    halves = [(tick // TICKS, tick % TICKS) for tick in rides if tick % TICKS]
    assert len(halves) > 80
    for _, late in halves:
        assert Fraction(late, TICKS - late) == Fraction(int(first), int(second))


@pytest.mark.parametrize("feel", ["Medium shuffle", "Two-beat"])
def test_the_swing_of_a_shipped_feel_is_the_one_it_states(feel: str) -> None:
    text = find_feel(feel)
    exact = arrange(find_form("Twelve bars"), text, G, choruses=2, looseness=0)
    raw = backing_midi_bytes(alone(exact))
    late = {start % TICKS for start, _, _, _ in notes_of(read(raw).tracks[4])} - {0}
    assert {Fraction(tick, TICKS - tick) for tick in late} == {text.swing}


# --- equal bytes ----------------------------------------------------------------------


@every_feel
def test_equal_inputs_give_equal_bytes_and_another_seed_other_ones(feel: str) -> None:
    for seed in (0, 4):
        again = arrange(find_form("Twelve bars"), find_feel(feel), G, choruses=2, seed=seed)
        assert backing_midi_bytes(alone(again)) == content(feel, seed=seed)
    assert len({content(feel, seed=seed) for seed in (0, 4, 5)}) == 3


# --- text -----------------------------------------------------------------------------


def test_the_chart_in_text_has_four_bars_a_line_and_the_ending_of_its_own() -> None:
    assert backing_text(played("Rumba")) == (
        "Twelve bars, Rumba\n"
        "Key of G, 4/4, 112 beats a minute, 2 choruses\n\n"
        "| G7    | G7    | G7    | G7    |\n"
        "| C7    | C7    | G7    | G7    |\n"
        "| D7    | C7    | G7 C7 | G7 D7 |\n\n"
        "Last chorus\n"
        "| G7    | G7    | G7    | G7    |\n"
        "| C7    | C7    | G7    | G7    |\n"
        "| D7    | C7    | G7 D7 | G7    |\n"
    )


def test_file_names_are_made_of_letters_digits_and_hyphens_alone(tmp_path: Path) -> None:
    [form] = parse_band('form "../../x; rm"\n bars I7 x4')
    [feel] = parse_band('feel "\u266f$(y)"\n drums ride on 1')
    harp = Harp("B")
    band = arrange(form, feel, harp.key_in(Position(2)), choruses=1, seed=2)  # type: ignore[arg-type]
    made = make_backing(band, tmp_path, ["text"], harp=harp, position=Position(2))
    assert re.fullmatch(r"[a-z0-9-]+\.txt", made[0].path.name)
    assert made[0].path.name == "x-rm-y-f-sharp-100-bpm-b-harp-2nd-1-chorus-seed-2.txt"


# --- the command ----------------------------------------------------------------------


def run(*arguments: str) -> Result:
    return CliRunner().invoke(cli, ["backing", *arguments])


def files_of(*arguments: str) -> list[dict[str, Any]]:
    done = run("--json", *arguments)
    assert done.exit_code == 0, done.output
    found: list[dict[str, Any]] = json.loads(done.stdout)["files"]
    return found


def test_midi_and_text_are_made_in_the_key_of_harp_and_position(tmp_path: Path) -> None:
    rows = files_of(
        "--form", "Twelve bars", "--harp", "A", "--to", "midi,text", "--choruses", "3",
        "--tempo", "100", "--seed", "2", "--out", str(tmp_path),
    )  # fmt: skip
    assert [row["kind"] for row in rows] == ["midi", "text"]
    # The key a fifth above A is E (the circle of fifths).
    assert {(row["key"], row["tempo"], row["bars"], row["seed"]) for row in rows} == {
        ("E", 100, 36, 2)
    }
    assert sorted(path.name for path in tmp_path.glob("[!.]*")) == sorted(
        Path(row["path"]).name for row in rows
    )
    assert "E7" in Path(rows[1]["path"]).read_text()
    file = mido.MidiFile(rows[0]["path"])
    assert math.isclose(file.length, 36 * 4 * 60 / 100, rel_tol=1e-6)


def test_the_chart_says_which_harp_it_is_for(tmp_path: Path) -> None:
    [row] = files_of(
        "--form", "Eight bars", "--harp", "F#", "--to", "chart", "--out", str(tmp_path)
    )  # fmt: skip
    assert row["kind"] == "chart-pdf"
    path = Path(row["path"])
    assert path.read_bytes().startswith(b"%PDF-")
    assert path.name.endswith("-f-sharp-harp-2nd.pdf")


# By hand: E is a fifth above A and a whole tone (two fifths) above D.
KEYS_ASKED_FOR = {
    ("E",): ("-e-115-bpm-a-harp-2nd.txt", ""),
    ("e minor", "--position", "3"): ("-e-115-bpm-d-harp-3rd.txt", ""),
    ("Ebm", "--position", "1"): (
        "-eb-115-bpm-eb-harp-1st.txt",
        "Eb minor: the natural third of an E flat harp in 1st position is major. A D flat harp in "
        "3rd position has a minor third: --position 3\n",
    ),
}


@pytest.mark.parametrize("arguments", KEYS_ASKED_FOR)
def test_a_band_plays_in_the_key_of_the_song(arguments: tuple[str, ...], tmp_path: Path) -> None:
    out = ("--to", "text", "--out", str(tmp_path))
    done = run("--form", "Twelve bars", "--key", *arguments, *out)
    ending, notice = KEYS_ASKED_FOR[arguments]
    assert (done.exit_code, done.stderr) == (0, notice)
    [made] = [path.name for path in tmp_path.iterdir() if not path.name.startswith(".")]
    assert made == f"twelve-bars-medium-shuffle{ending}"


@pytest.mark.parametrize("option", ["--feel Rumba", "--tempo 90", "--seed 3", "--out x", "--large"])
def test_options_of_a_backing_without_a_form_are_refused(option: str) -> None:
    done = run(*option.split())
    assert (done.exit_code, done.stdout) == (2, "")
    assert done.stderr == (
        f"{option.split()[0]} is for a backing, and no form is named. "
        'Add one: --form "Twelve bars". reedmill backing alone lists them.\n'
    )


@pytest.mark.parametrize(
    "option", ["--audio mp3", "--count-in 1", "--click", "--bits 24", "--band plain"]
)
def test_what_is_asked_of_a_sound_that_is_not_made_is_refused(option: str, tmp_path: Path) -> None:
    out = tmp_path / "o"
    done = run("--form", "Twelve bars", "--to", "midi,text", *option.split(), "--out", str(out))
    assert done.exit_code == 2
    assert "what you ask of the sound goes into a sound file. Add wav: --to wav" in done.stderr
    assert not out.exists()


@pytest.mark.parametrize(
    ("tempo", "said"),
    [
        (
            "84",
            'tempo 84 is slower than "Medium shuffle" is meant for, 92 to 138. Choose a tempo in '
            "that range with --tempo, or another --feel.\n",
        ),
        (
            "139",
            'tempo 139 is faster than "Medium shuffle" is meant for, 92 to 138. Choose a tempo in '
            "that range with --tempo, or another --feel.\n",
        ),
        ("92", ""),
        ("138", ""),
    ],
)
def test_a_tempo_outside_the_feel_is_played_and_told(tempo: str, said: str, tmp_path: Path) -> None:
    done = run(
        "--form", "Twelve bars", "--tempo", tempo, "--to", "text", "--out", str(tmp_path)
    )  # fmt: skip
    assert (done.exit_code, done.stderr) == (0, said)
    assert f"{tempo} beats a minute" in next(tmp_path.glob("*.txt")).read_text()


# The chord at home says it, in whatever position: by hand, on a C harp.
KEYS_IN_WORDS = {
    ("Twelve bars", "2"): "G", ("Twelve bars", "3"): "D", ("Twelve bars in minor", "2"): "G minor",
    ("Twelve bars in minor", "3"): "D minor", ("Two and five", "1"): "C",
    ("Dorian vamp", "3"): "D dorian",
}  # fmt: skip


@pytest.mark.parametrize(("form", "position"), KEYS_IN_WORDS)
def test_a_minor_key_is_called_one(form: str, position: str, tmp_path: Path) -> None:
    done = run(
        "--form", form, "--position", position, "--to", "text", "--out", str(tmp_path)
    )  # fmt: skip
    key = KEYS_IN_WORDS[form, position]
    assert f": key of {key}, tempo" in done.stdout
    assert f"\nKey of {key}, 4/4" in next(tmp_path.glob("*.txt")).read_text()


def test_a_player_who_is_left_out_is_neither_in_the_sound_nor_in_midi(tmp_path: Path) -> None:
    """The name says so; the others play what they played."""
    form = ["--form", "Twelve bars", "--choruses", "1", "--to", "midi", "--out", str(tmp_path)]
    [whole], [fewer] = (files_of(*form, *more) for more in ([], ["--without", "bass,Drums"]))
    assert "without-bass-drums" in fewer["path"]
    tracks = {t.name: notes_of(t) for t in read(Path(whole["path"]).read_bytes()).tracks}
    left = {t.name: notes_of(t) for t in read(Path(fewer["path"]).read_bytes()).tracks}
    assert left == tracks | {"Bass": [], "Drums": []}
    for wrong, told in (("bas", 'Did you mean "bass"'), ("bass,comp,drums", "nobody of the band")):
        result = run(*form, "--without", wrong)
        assert result.exit_code == 2
        assert told in result.output


def test_a_form_is_played_in_the_position_it_is_meant_for(tmp_path: Path) -> None:
    where = ("--form", "Dorian vamp", "--to", "text", "--out", str(tmp_path))
    assert files_of(*where)[0]["key"] == "D"  # 3rd position of a C harp: two fifths up
    assert files_of(*where, "--position", "2")[0]["key"] == "G"


def test_the_same_command_makes_the_same_bytes(tmp_path: Path) -> None:
    both = []
    for folder in ("a", "b"):
        [row] = files_of(
            "--form", "eight-bars", "--feel", "rumba", "--to", "midi", "--seed", "3",
            "--out", str(tmp_path / folder),
        )  # fmt: skip
        both.append(Path(row["path"]).read_bytes())
    assert both[0] == both[1]


def test_files_of_ones_own_are_played(tmp_path: Path) -> None:
    form, feel = tmp_path / "a.form", tmp_path / "b.feel"
    form.write_text('form "Mine"\n bars I7 x2 | V7 | I7\n')
    feel.write_text('feel "Also mine"\n meter 3/4\n bass root on 1\n comp on 2 3\n')
    [row] = files_of(
        "--form", str(form), "--feel", str(feel), "--to", "midi", "--out", str(tmp_path / "o")
    )
    assert (row["form"], row["feel"], row["meter"], row["bars"]) == ("Mine", "Also mine", "3/4", 16)


def test_without_a_form_all_titles_are_shown_on_one_screen_of_24_lines() -> None:
    done = run()
    assert done.exit_code == 0
    lines = done.stdout.splitlines()
    assert len(lines) < 24  # with the prompt; 80 columns by 24 lines is what terminals open with
    assert max(map(len, lines)) <= 80
    rows = [line[11:].strip("; ").split("; ") for line in lines if line.startswith("  ")]
    titles = [title for row in rows for title in row]
    forms, feels = ([each.title for each in shelf] for shelf in (shipped_forms(), shipped_feels()))
    assert sorted(titles) == sorted([*forms, *feels])


@pytest.mark.parametrize("arguments", [["--list"], ["--list", "--form", "Twelve bars"]])
def test_the_list_says_all_of_forms_and_feels(arguments: list[str]) -> None:
    done = run(*arguments)
    assert done.exit_code == 0
    shelf = [(form.title, form.about) for form in shipped_forms()]
    for title, about in [*shelf, *((feel.title, feel.about) for feel in shipped_feels())]:
        assert title in done.stdout
        assert about in done.stdout
    lines = done.stdout.splitlines()
    at = lines.index("  Twelve bars")
    assert lines[at + 3 : at + 5] == [
        "    turnaround  I7 IV7 | I7 V7",
        "    ending      I7 V7 | I7",
    ]
    assert max(map(len, lines)) <= 80
    assert {f"Forms of {len(form.bars)} bars" for form in shipped_forms()} <= set(lines)
    data = json.loads(run("--json", *arguments).stdout)
    assert {row["title"] for row in data["forms"]} == {form.title for form in shipped_forms()}
    assert {row["title"] for row in data["feels"]} == {feel.title for feel in shipped_feels()}
    files = {row["file"] for row in (*data["forms"], *data["feels"])}
    assert "forms/twelve-bars.form" in files


REFUSED = {
    ("--form", "Twelve"): "there is no form",
    ("--form", "Twelve bars", "--feel", "shuffel"): "there is no feel",
    ("--form", "Twelve bars", "--choruses", "99"): "write 1 to 50",
    ("--form", "Twelve bars", "--to", "pdf"): 'there is no format "pdf"',
    ("--form", "Twelve bars", "--to", ","): "--to names no format",
    ("--form", "none.form"): "cannot read this file",
    ("--form", "Twelve bars", "--position", "13"): "there is no position",
    ("--form", "Twelve bars", "--harp", "X"): "harp",
}


@pytest.mark.parametrize("arguments", REFUSED)
def test_what_cannot_be_played_is_refused_with_exit_code_2(
    arguments: tuple[str, ...], tmp_path: Path
) -> None:
    done = run(*arguments, "--out", str(tmp_path / "o"))
    assert done.exit_code == 2
    assert REFUSED[arguments] in done.stderr
    assert not (tmp_path / "o").exists()


def test_a_form_where_a_feel_belongs_is_told_where_it_goes(tmp_path: Path) -> None:
    form, feel = tmp_path / "a.form", tmp_path / "b.feel"
    form.write_text('form "Porch"\n bars I7 x4\n')
    feel.write_text('feel "Porch shuffle"\n bass root on 1\n')
    done = run("--form", str(feel))
    assert done.exit_code == 2
    assert done.stderr == (
        f"{feel}: there is no form in this file. "
        'It holds the feel "Porch shuffle": give it with --feel.\n'
    )
    done = run("--form", str(form), "--feel", str(form))
    assert done.exit_code == 2
    assert 'It holds the form "Porch": give it with --form' in done.stderr


def test_the_titles_of_forms_are_told_apart(tmp_path: Path) -> None:
    """Titles hold commas, so that commas between them would make two of one."""
    told = run("--form", "Twelve bar", "--out", str(tmp_path)).stderr
    assert told == (
        'there is no form "Twelve bar". Did you mean "Twelve bars"? Put a whole title in quotes. '
        "A file of your own ends in .form.\n"
    )
    told = run("--form", "Quadrille", "--out", str(tmp_path)).stderr
    listed = told.partition("the forms are: ")[2].partition(". ")[0]
    assert sorted(listed.split("; ")) == sorted(form.title for form in shipped_forms())


def test_a_mistake_in_a_file_is_shown_with_its_line(tmp_path: Path) -> None:
    form = tmp_path / "mine.form"
    form.write_text('form "Mine"\n  bars I7 | X7\n')
    done = run("--form", str(form), "--to", "midi", "--out", str(tmp_path / "o"))
    assert done.exit_code == 2
    assert 'mine.form:2:13: "X7" is not a chord of a form' in done.stderr


def test_the_python_twin_refuses_an_unknown_format(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no format"):
        make_backing(played("Rumba"), tmp_path, ["mp3"], harp=Harp("C"), position=Position(2))


def test_the_band_is_heard_for_as_long_as_it_plays(tmp_path: Path) -> None:
    """The bars asked for at their tempo, and a bar of count-in before them."""
    rows = files_of(
        "--form", "One chord", "--feel", "Rumba", "--choruses", "1", "--tempo", "240",
        "--to", "wav", "--band", "plain", "--count-in", "1", "--out", str(tmp_path),
    )  # fmt: skip
    [row] = rows
    assert row["kind"] == "audio"
    assert Path(row["path"]).name == (
        "one-chord-rumba-g-240-bpm-c-harp-2nd-1-chorus-count-in-1-plain-band.wav"
    )
    info = soundfile.info(row["path"])
    bars_s = 9 * 4 * 60 / 240
    assert bars_s <= info.duration <= bars_s + 4.5  # and what rings on after the last bar


def test_all_that_sounds_is_in_the_file_with_the_plain_name(tmp_path: Path) -> None:
    """Band alone, band and click, and both with each in a file of its own."""
    name = "one-chord-rumba-g-240-bpm-c-harp-2nd-1-chorus-plain-band"
    common = (
        "--form", "One chord", "--feel", "Rumba", "--choruses", "1", "--tempo", "240",
        "--to", "wav", "--band", "plain",
    )  # fmt: skip
    for at, (options, endings) in enumerate(
        {
            (): {"": "backing"},
            ("--click",): {"-click": "mix"},
            ("--click", "--stems"): {
                "-click": "mix",
                "-click.backing": "backing",
                "-click.click": "click",
            },
        }.items()
    ):
        rows = files_of(*common, *options, "--out", str(tmp_path / str(at)))
        found = {Path(row["path"]).name: row["stem"] for row in rows}
        assert found == {f"{name}{ending}.wav": stem for ending, stem in endings.items()}
    whole, band, click = (
        soundfile.read(tmp_path / "2" / f"{name}{ending}.wav")[0]
        for ending in ("-click", "-click.backing", "-click.click")
    )
    assert abs(whole - band - click).max() < 2 / 2**15  # a rounding each
    done = run(*common, "--stems", "--out", str(tmp_path / "none"))
    assert done.exit_code == 2
    assert "Add --click or --count-in 1" in done.stderr
