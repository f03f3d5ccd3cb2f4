"""Forms and feels as text: what is read, what is refused and how, and their reference."""

from __future__ import annotations

import re
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reedmill.band import backing_keywords as band_words
from reedmill.band.arranger import arrange
from reedmill.band.backing_mistakes import MISTAKES, mistakes_table
from reedmill.band.backing_parser import parse_band, parse_band_file
from reedmill.band.feel import ACCENT, GHOST, BandFeel
from reedmill.band.form import Form, chorus_text
from reedmill.band.instruments import ALSO_CALLED, DRUMS, SEVERAL, drum_named
from reedmill.band.moods import Mood
from reedmill.band.shelf import find_feel, find_form, shipped_feels, shipped_forms
from reedmill.base.errors import InputError, PatternError
from reedmill.base.shipped import patterns_dir
from reedmill.language import words as drill_words
from reedmill.language.mistakes import Mistake
from reedmill.score.arrangement import Part
from reedmill.theory.chords import Chord
from reedmill.theory.positions import Key

C = Key(0, minor=False)
PAGE = (patterns_dir() / "BACKING.md").read_text("utf-8")
EXAMPLES = re.findall(r"^```(form|feel)\n(.*?)^```", PAGE, re.M | re.S)

every_mistake = pytest.mark.parametrize("row", MISTAKES.values(), ids=MISTAKES)


def form(text: str) -> Form:
    [found] = parse_band('form "Mine"\n' + text)
    assert isinstance(found, Form)
    return found


def feel(text: str) -> BandFeel:
    [found] = parse_band('feel "Mine"\n' + text)
    assert isinstance(found, BandFeel)
    return found


def refusal(text: str) -> PatternError:
    with pytest.raises(PatternError) as caught:
        parse_band(text, "mine.form")
    return caught.value


# --- what is read ---------------------------------------------------------------------


def test_a_form_is_read_as_it_is_read_aloud() -> None:
    found = form(
        'about "Up and back."\npositions 3, 2\nbars | I7 x2 | IV7:3 V7 |\nbars %  # again\n'
        "turnaround V7\nending ii7 V7 | I6"
    )
    assert chorus_text(found.bars) == "I7 | I7 | IV7:3 V7 | IV7:3 V7"
    assert chorus_text(found.chorus(last=False)) == "I7 | I7 | IV7:3 V7 | V7"
    assert chorus_text(found.chorus(last=True)) == "I7 | I7 | ii7 V7 | I6"
    assert (found.about, found.positions, found.span.line) == ("Up and back.", (3, 2), 1)


def test_a_feel_is_read_as_it_is_counted() -> None:
    found = feel(
        'tempo 60 to 90\nswing 3 to 2\nsounds comp "drawbar organ"\nloudness bass 99\n'
        "loose timing 5, velocity 4\nbass root on 1:2, fifth on 3& | r\ncomp held on 1 3!\n"
        "drums side stick on 2 (4a), kick on 1\ndrums ride on 1+\nfill snare on 4e\nending on 1 3"
    )
    assert [(s.word, s.at, s.length) for s in found.bass.even[0][0]] == [
        ("root", 0, 2), ("fifth", Fraction(5, 2), None),
    ]  # fmt: skip
    assert found.bass.even[0][1] == ()
    assert [(int(s.at), s.louder) for s in found.comp.even[0][0]] == [(0, 0), (2, ACCENT)]
    assert [(s.word, s.at, s.louder) for s in found.drums.even[0][0][0]] == [
        ("kick", 0, 0), ("side stick", 1, 0), ("side stick", Fraction(15, 4), GHOST),
    ]  # fmt: skip
    assert found.drums.even[0][1][0][0].at == Fraction(1, 2)
    assert found.fills.even[0][0].at == Fraction(13, 4)
    assert [s.at for s in found.ending] == [0, 2]
    assert (found.tempo_bpm, found.tempo_goal_bpm, found.usual_tempo_bpm) == (60, 90, 75)
    assert (found.swing, found.timing_ms, found.velocity) == (Fraction(3, 2), 5, 4)
    assert dict(found.programs)[Part.COMP] == 16  # the 17th of the General MIDI sound set
    assert dict(found.loudness) == {Part.BASS: 99, Part.COMP: 68, Part.DRUMS: 86}


def test_twelve_eight_is_counted_in_threes() -> None:
    """1 & a, 2 & a: the eighths of 12/8 in their order, by hand."""
    found = feel("meter 12/8\ndrums ride on 1 1& 1a 2 2& 2a 4 4a")
    assert [stroke.at for stroke in found.drums.even[0][0][0]] == [0, 1, 2, 3, 4, 5, 9, 11]
    assert "there is no 1e in 12/8" in str(refusal('feel "x"\nmeter 12/8\ndrums ride on 1e'))


def test_several_stand_in_one_file_and_point_to_their_lines() -> None:
    found = parse_band(
        'form "A"\n bars I7\n\n# and\nfeel "A"\n drums ride on 1\nform "B"\n bars i7'
    )
    assert [(type(each).__name__, each.title, each.span.line) for each in found] == [
        ("Form", "A", 1), ("BandFeel", "A", 5), ("Form", "B", 7),
    ]  # fmt: skip


def test_a_title_is_made_printable_once() -> None:
    [found] = parse_band('form "x\u202ey"\n about "say \\"so\\""\n bars I7')
    assert (found.title, found.about) == ("x[U+202E]y", 'say "so"')


# --- what is refused ------------------------------------------------------------------


@every_mistake
def test_the_example_makes_its_own_mistake_and_the_cure_cures_it(row: Mistake) -> None:
    error = refusal(row.broken)
    assert error.key == row.key
    line = row.broken.split("\n")[error.span.line - 1]
    assert 1 <= error.span.column <= len(line) + 1
    assert parse_band(row.mended)


@every_mistake
def test_what_is_said_has_no_gap_and_ends_in_something_to_write(row: Mistake) -> None:
    error = refusal(row.broken)
    assert not re.search(r"[{}]", error.fact + error.remedy)
    assert re.search(
        r"\b(Write|Put|Add|Keep|Start|Give|Leave|takes .+: |starts with one) ?", error.remedy
    )


# Whole messages, read aloud once.
SAID = {
    'form "Mine"\n  bars I7 | F7 | I7\n': """\
mine.form:2:13: "F7" is a chord of one key, and a form plays in every key
    2 |   bars I7 | F7 | I7
      |             ^^
  Write the degree as a Roman numeral, upper case for a major third and lower case for a minor \
one, and the kind of chord after it: I7, IV7, ii7, bVII, V7#9, iim7b5, #ivdim7.""",
    'feel "Mine"\n  bass root 1 3\n': """\
mine.form:2:13: "1" does not fit here
    2 |   bass root 1 3
      |             ^
  The bass line takes tones of the chord and the beats they are on: bass root on 1, fifth on 3""",
    'feel "Mine"\n  meter 3/4\n  drums snare on 2 4\n': """\
mine.form:3:20: there is no 4 in 3/4
    3 |   drums snare on 2 4
      |                    ^
  Write a place in the bar: 4/4 counts 1 1e 1& 1a 2 ... to 4a, and 12/8, whose beats are taps of \
the foot, 1 1& 1a 2 ... to 4a.""",
    'form "Mine"\n  bars ii7 | V7\n': """\
mine.form:2:3: this form would end on V7
    2 |   bars ii7 | V7
      |   ^^^^
  Add how it comes home, such as: ending I7. An ending line may end anywhere.""",
}


@pytest.mark.parametrize("text", SAID)
def test_the_message_is_the_one_that_was_read_aloud(text: str) -> None:
    assert str(refusal(text)) == SAID[text]


# What a text is told, in full but for the line that is shown: by hand.
REMEDIES = {
    'form "x"\n bars I7, IV7, I7  # three': "Put a | between bars, not a comma: bars I7 | IV7 | I7",
    'form "x"\n bars I7\n ending I7 , I7': "Put a | between bars, not a comma: ending I7 | I7",
    'form "x"\n bars I7 x 4': "Write x4, without a space.",
    'form "x"\n bars I7 | IV7  x  12 | I7': "Write x12, without a space.",
    'form "x"\n bars 1 4 1 1': "Write I for 1 and IV for 4.",
    'form "x"\n bars 17 | 4m7 | 5': "Write I7 for 17, iv7 for 4m7 and V for 5.",
    'form "x"\n bars I7 | VIIb7 | I7': "Write bVII7: the flat comes first.",
    'form "x"\n bars iv#dim7 | I7': "Write #ivdim7: the sharp comes first.",
    'feel "x"\n drums snare on 2,4': "Put a space between beats: drums snare on 2 4",
    'feel "x"\n drums kick on 1, snare on 2, (4), 4&!, ride on 1': (
        "Put a space between beats: snare on 2 (4) 4&!"
    ),
    'feel "x"\n comp on 1\n ending on 1, 3': "Put a space between beats: ending on 1 3",
}


@pytest.mark.parametrize("text", REMEDIES)
def test_a_plain_slip_is_told_exactly_what_to_write(text: str) -> None:
    assert refusal(text).remedy == REMEDIES[text]


@pytest.mark.parametrize("text", ['form "x"\n bars 12 | I7', 'feel "x"\n drums snare on 2,, 4x'])
def test_what_may_mean_anything_is_only_told_what_the_line_takes(text: str) -> None:
    assert "line takes" in refusal(text).remedy


def test_drums_are_known_by_the_names_that_players_use() -> None:
    found = feel(
        "drums hi-hat on 1, hihat on 2, bass drum on 1 3, cross-stick on 2, open hi hat on 4"
    )
    assert [(s.word, int(s.at)) for s in found.drums.even[0][0][0]] == [
        ("closed hat", 0), ("kick", 0), ("closed hat", 1), ("side stick", 1), ("kick", 2),
        ("open hat", 3),
    ]  # fmt: skip
    assert set(ALSO_CALLED.values()) <= set(DRUMS)
    assert not set(ALSO_CALLED) & (set(DRUMS) | set(SEVERAL))
    assert refusal('feel "x"\n drums hi-hat on 1, closed hat on 1').key == "place-twice"


@pytest.mark.parametrize("name", SEVERAL)
def test_a_name_of_several_drums_is_told_which(name: str) -> None:
    error = refusal(f'feel "x"\n drums {name} on 1')
    assert error.key == "unknown-drums"
    for drum in SEVERAL[name]:
        assert drum_named(drum) == drum
        assert f'"{drum}"' in error.fact


def test_a_line_may_come_again_where_it_is_another_way_or_goes_on() -> None:
    assert len(form("bars I7\nbars I7").bars) == 2
    assert len(feel("drums ride on 1\ndrums ride on 2").drums.even[0]) == 2
    for line in ("bass root on 1", "comp on 1", "fill snare on 1"):
        assert parse_band(f'feel "x"\nbass root on 1\n{line}\n{line}')
    for line in ("ending on 1", "tempo 60", "stops on 1", "lean ride 3 early", "accents 2 4"):
        doubled = refusal(f'feel "x"\nbass root on 1\n{line}\n{line}')
        assert doubled.key == "second-line"


# --- hostile text ---------------------------------------------------------------------

_PIECES = (
    'form "A"\n', 'feel "B"\n', "\n  ", "bars ", "turnaround ", "ending ", "bass ", "comp ",
    "drums ", "fill ", "swing 2 to 1\n", "meter 12/8\n", "meter 1/8\n", "tempo 300\n", "about ",
    "positions 1, 12\n", "loose timing 40, velocity 30\n", 'sounds bass "Tuba"\n', "I7", "ii7",
    " V7#9", "bVII", ":3", ":0", " | ", "|", "%", " x64", " x99999999", "root on 1", "walk on 1 2",
    "lead on 4a", "held on 1:2", "short on 2&", "ride on 1 1e", "side stick on (4)", "on 3!", ", ",
    "r", '"', '"x"', "#", "\\", "\0", "\ufeff", "\u202e", "\u0663", "\r", "\t", "\u201c",
    "999999999", "1:1/0", "(1", "x", "&", "{", "}", "{0}", "%s", "\u266d", "\U0001d7d9", "\ud800",
)  # fmt: skip
SHIPPED = [path.read_text("utf-8") for path in sorted(patterns_dir().glob("f*/*.f*"))]


@st.composite
def spoilt(draw: st.DrawFn) -> str:
    """A shipped form or feel with something put in or taken out."""
    text = draw(st.sampled_from(SHIPPED))
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(text)))
        text = text[:at] + draw(st.sampled_from(_PIECES)) + text[at + draw(st.integers(0, 6)) :]
    return text


hostile = st.one_of(
    spoilt(),
    spoilt(),
    st.text(st.characters(exclude_categories=()), max_size=200),
    st.lists(st.sampled_from(_PIECES), max_size=40).map("".join),
    st.lists(st.sampled_from(_PIECES), max_size=30).map(lambda p: 'form "A"\nbars ' + "".join(p)),
    st.lists(st.sampled_from(_PIECES), max_size=30).map(lambda p: 'feel "A"\ndrums ' + "".join(p)),
)
PLAIN_FORM, PLAIN_FEEL = shipped_forms()[0], shipped_feels()[0]


@given(hostile)
def test_a_strangers_text_can_at_worst_earn_a_message(text: str) -> None:
    try:
        found = parse_band(text, "mine.form")
        for each in found:
            if isinstance(each, Form):
                played = arrange(each, PLAIN_FEEL, C, choruses=2, seed=1)
            else:
                played = arrange(PLAIN_FORM, each, C, choruses=2, seed=1)
            assert played.length > 0
            assert all(note.length > 0 and 0 <= note.key <= 127 for note in played.notes)
    except InputError as error:
        str(error)


def test_digits_of_another_script_count_nothing() -> None:
    assert refusal('feel "x"\n drums ride on (\u06633)').key == "does-not-fit"
    assert refusal('feel "x"\n tempo \u0666\u0660\n drums ride on 1').key == "does-not-fit"


@pytest.mark.parametrize(
    "text",
    [
        'form "x"\n' + " bars I7 x99999999\n" * 1000,
        'form "x"\n bars ' + "I7 " * 50_000,
        'form "x"\n bars ' + "I7 | " * 30_000 + "I7",
        'feel "x"\n drums ' + "ride on 1, " * 15_000 + "ride on 2",
        'feel "x"\n comp on ' + "1 " * 50_000,
        'feel "x"\n' + " drums ride on 1\n" * 9000,
        'form "' + "x" * 150_000,
    ],
    ids=["repeats", "chords", "bars", "strokes", "places", "lines", "title"],
)
def test_a_huge_text_is_refused_soon(text: str) -> None:
    assert len(str(refusal(text))) < 1000


def test_bytes_that_are_no_text_and_files_that_are_not_there_are_told(tmp_path: Path) -> None:
    bad = tmp_path / "mine.form"
    bad.write_bytes(b'form "\xff"\n')
    with pytest.raises(InputError, match=r"mine\.form:1:7"):
        parse_band_file(bad)
    with pytest.raises(InputError, match="cannot read this file"):
        parse_band_file(tmp_path / "none.form")


# --- finding --------------------------------------------------------------------------


def test_titles_are_found_in_any_spelling_and_a_wrong_one_is_met_with_the_nearest() -> None:
    assert find_form("twelve-bars").title == find_form("TWELVE BARS").title == "Twelve bars"
    assert find_feel("slow twelve-eight").meter.name == "12/8"
    with pytest.raises(InputError, match=r'no form "Twelv bars".*Did you mean "Twelve bars"'):
        find_form("Twelv bars")


def test_a_file_of_ones_own_is_found_by_path_and_by_title(tmp_path: Path) -> None:
    own = tmp_path / "mine.form"
    own.write_text('form "A"\n bars I7\nform "B one"\n bars i7\nfeel "F"\n drums ride on 1\n')
    assert find_form(f"{own}:b-one").title == "B one"
    assert find_feel(str(own)).title == "F"
    with pytest.raises(InputError, match=r'holds 2 forms\. Say which one: ".*mine\.form:A"'):
        find_form(str(own))
    with pytest.raises(InputError, match="Say which one"):
        find_form(f"{own}:C")
    other = tmp_path / "mine.feel"
    other.write_text('form "A"\n bars I7\n')
    with pytest.raises(InputError, match="there is no feel in this file"):
        find_feel(str(other))


# --- the reference --------------------------------------------------------------------


def whole(block: str, text: str) -> str:
    """An example of the page as a file: a line alone needs a title and something to play."""
    if re.search(rf'^{block} "', text, re.M):
        return text
    filled = f'{block} "Example"\n{text}'
    needed = "bars" if block == "form" else r"(bass|comp|drums)"
    if re.search(rf"^{needed} ", text, re.M):
        return filled
    return filled + ("bars I7 x4\n" if block == "form" else "drums ride on 1\n")


@pytest.mark.parametrize(("block", "text"), EXAMPLES)
def test_every_example_of_the_page_works(block: str, text: str) -> None:
    [found] = parse_band(whole(block, text))
    if isinstance(found, Form):
        assert arrange(found, PLAIN_FEEL, C, choruses=2).notes
    else:
        assert arrange(PLAIN_FORM, found, C, choruses=2).notes


def test_every_word_has_a_heading_and_an_example_on_the_page() -> None:
    assert len(EXAMPLES) > 20
    headings = re.findall(r"^### (\w+)$", PAGE, re.M)
    assert set(headings) == {
        *band_words.STARTS,
        *band_words.FORM_LINES,
        *band_words.FEEL_LINES,
    }
    shown = {block: "\n".join(t for b, t in EXAMPLES if b == block) for block in ("form", "feel")}
    for word in band_words.FORM_LINES:
        assert re.search(rf"^\s*{word} ", shown["form"], re.M), word
    for word in band_words.FEEL_LINES:
        assert re.search(rf"^\s*{word} ", shown["feel"], re.M), word


def test_the_tables_of_the_page_are_the_ones_that_are_used() -> None:
    for table in (band_words.BASS_WORDS, band_words.COMP_WORDS):
        for word, meaning in table.items():
            assert f"| `{word}` | {meaning} |" in PAGE
    drums = PAGE[PAGE.index("The kit has") : PAGE.index("### fill")]
    assert set(re.findall(r"`([a-z ]+)`", drums.split("```")[0])) == set(DRUMS)
    also = re.findall(r"^\| ((?:`[a-z ]+` ?)+)\| `([a-z ]+)` \|$", PAGE, re.M)
    told = {name: drum for names, drum in also for name in re.findall("`([^`]+)`", names)}
    assert told == ALSO_CALLED
    for named, symbols in re.findall(r"^\| ((?:`[^`]+` ?)+)\| ([^|]+) \|", PAGE, re.M):
        chords = re.findall(r"`([^`]+)`", named)
        if re.match("[b#]?[iv]", chords[0], re.IGNORECASE):
            assert [Chord.parse(each).symbol(C) for each in chords] == symbols.split(", ")


def test_the_limits_of_the_page_are_the_ones_that_are_used() -> None:
    for claim in (
        f"| {drill_words.MAX_FILE_BYTES // 1000} kB, {band_words.MAX_ON_A_FILE} forms and feels |",
        f"| {drill_words.MAX_TITLE} characters |", f"| {drill_words.MAX_TEXT} characters |",
        f"| {band_words.MAX_BARS} bars, {band_words.MAX_CHORDS} chords or parts in a bar |",
        f"| {band_words.MAX_PATTERN_BARS} bars, {band_words.MAX_STROKES} strokes in a bar |",
        f"| {band_words.MAX_LINES} drums lines |", f"| {band_words.MAX_SWING} to 1 |",
        f"| {band_words.CHORUSES[-1]} choruses, {band_words.LONGEST_S // 60} minutes, "
        f"{band_words.MAX_NOTES:,} notes |",
        f"(up to {band_words.TIMINGS_MS[-1]})", f"(up to {band_words.VELOCITY_SPREAD[-1]})",
    ):  # fmt: skip
        assert claim in PAGE, claim


def test_the_list_of_mistakes_on_the_page_is_the_table() -> None:
    assert PAGE.endswith("\n" + mistakes_table(lambda row: refusal(row.broken).fact))


def test_every_line_that_is_shown_as_an_example_works() -> None:
    for word in band_words.FORM_LINES.values():
        assert form(("" if word.name == "bars" else "bars I7 x4\n") + word.example)
    for word in band_words.FEEL_LINES.values():
        assert feel(("" if word.name == "drums" else "drums ride on 1\n") + word.example)


@pytest.mark.parametrize("each", [*shipped_forms(), *shipped_feels()], ids=lambda each: each.title)
def test_everything_shipped_says_what_it_is_for(each: Form | BandFeel) -> None:
    assert each.about.endswith(".")
    assert len(each.about) <= 100


def test_a_line_may_be_for_quiet_or_full_choruses_alone() -> None:
    found = feel(
        "comp on 2\ncomp quiet held on 1\ncomp full on 2 4 | on 1\ncomp on 4\n"
        "drums ride on 1\ndrums quiet closed hat on 1\nfill snare on 4\nfill full snare on 3 4"
    )
    assert [len(found.comp.of(mood)) for mood in Mood] == [1, 2, 1]
    assert found.comp.in_mood(Mood.QUIET)[0][0][0].word == "held"
    assert found.drums.in_mood(Mood.FULL) == found.drums.even
    assert found.drums.quiet[0][0][0][0].word == "closed hat"
    assert len(found.fills.in_mood(Mood.FULL)[0]) == 2


def test_players_lean_and_accent_and_stop_as_a_feel_says() -> None:
    found = feel(
        "drums ride on 1\nlean cross-stick 12 late, ride 4 early comp 3 late\n"
        "accents 2 4\nstops on 1 2&"
    )
    assert found.late_ms("side stick", "drums") == 12
    assert found.late_ms("ride", "drums") == -4
    assert found.late_ms("kick", "drums") == 0
    assert found.accents == (Fraction(1), Fraction(3))
    assert [stroke.at for stroke in found.stops] == [0, Fraction(3, 2)]


def test_a_form_says_in_which_bars_the_band_stops_or_breaks() -> None:
    found = form("bars I7 x12\nstops 1 to 4\nbreaks 12")
    assert (found.stops, found.breaks) == (range(4), range(11, 12))
