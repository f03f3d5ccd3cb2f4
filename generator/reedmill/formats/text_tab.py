"""Plain-text tab for e-mails, chats and the foot of a sheet.

The foot of a sheet says which reeds, because when is in the notes above it.  The page of text
stands alone, for a screen reader or a braille display too, so that its tab says how long as
well, as a drill does: it can be pasted into a play line.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from fractions import Fraction

from reedmill.base.text import from_right
from reedmill.harp.together import hole_numbers
from reedmill.score.notation import ECHO, NotatedValue, bars
from reedmill.score.score import Feel, Note, Score
from reedmill.score.sign_key import explained_signs
from reedmill.score.style import COUNTED, Mark
from reedmill.theory.intonation import EQUAL

BARS_A_LINE = 4
COLUMNS = 88
_USUAL_HZ = 440  # ISO 16:1975
LEGEND = (
    "-3 draw   3 blow   ' a semitone of bend   ^ overbend   ! accent   r rest\n"
    "~ slide; to the same note, it goes on   ,out breathe out   ,in breathe in\n"
    "-3:2 lasts two beats, -3:1/2 half a beat, and without a colon one"
)

Bar = list[NotatedValue]
Tell = Callable[[Bar], str]
"""A bar in words, one kind of text for each way to tell it."""


def tab_lines(score: Score) -> list[str]:
    """Return the tab, up to four bars and 88 columns to a line, ``|`` after each bar.

    A dot is a rest, ``~`` slides from one tab to the next, ``_`` goes on with the note
    before the bar line, ``!`` is an accent and ``,out`` or ``,in`` a breath; the words of its style
    stand before a note.  Each section starts a line with its name, which has one to itself where it
    runs from right to left.
    """
    return _lines(score, lambda bar: bar_text(score, bar))


def timed_lines(score: Score) -> list[str]:
    """Return the lines of ``tab_lines`` with the length of each note, as a play line writes it.

    ``-3:3/2`` lasts a beat and a half, ``-3`` one beat, and ``r`` is a rest.  What goes on over
    a bar line is a slide to the same note; ``~:2 -3'`` is a slide that takes two beats.
    """
    return _lines(score, lambda bar: bar_said(score, bar))


def degree_lines(score: Score) -> list[str]:
    """Return the degree of every note in the lines of the tab; ``r`` for a bar without one."""
    return _lines(score, _degree_text)


def _lines(score: Score, tell: Tell) -> list[str]:
    names = {int(start / score.meter.beats): name for start, name in score.sections}
    lines: list[str] = []
    full = BARS_A_LINE
    for number, bar in enumerate(bars(score)):
        if number in names:
            lines.append(f"{names[number]}:")
            # on a line with a name from the right the tab would run from the right too
            full = BARS_A_LINE if from_right(names[number]) else 0
        for piece in wrapped_bar(tell(bar) + " |"):
            if full == BARS_A_LINE or len(lines[-1]) + 1 + len(piece) > COLUMNS:
                lines.append(piece)
                full = 0
            else:
                lines[-1] += " " + piece
        full += 1
    return lines


_STYLE_WORD = "|".join(f"{each.value}{r'[0-9]*' if each in COUNTED else ''}" for each in Mark)
_PIECE = re.compile(rf" ?(?:~(?::[0-9/]+ )?)?(?:(?:{_STYLE_WORD}) )*[^ ~]+")


def wrapped_bar(text: str, columns: int = COLUMNS) -> Iterator[str]:
    """Yield *text* in lines of *columns*, broken at a space or before a ``~``, never in a tab.

    The words of its style stay with a note, and a slide with the note it comes to.
    """
    line = ""
    for word in _PIECE.findall(text):
        if len(line) + len(word) > columns:
            yield line
            line = word.lstrip()
        else:
            line += word
    yield line


def tab_text(score: Score) -> str:
    """Return the drill as a page of plain text, with a heading and its tab."""
    head = [
        score.title,
        f"{score.harp.label}, {score.position.label}, key of {score.key_words}, "
        f"{score.meter.name}, {tempo_said(score)}",
    ]
    about = [score.about] if score.about else []
    listen = ["", f"Listen for: {score.listen}"] if score.listen else []
    tuned = [f"Tuning: {', '.join(tuning(score))}"] if tuning(score) else []
    parts = [*head, *about, *tuned, *_over(score), "", *timed_lines(score)]
    over = said_over(score)
    told = [*(["", "By bar and beat:", *over] if over else [])]
    told += ["", "Degrees of the key:", *degree_lines(score)]
    return "\n".join([*parts, *told, *listen, "", *legend_lines(score), ""])


def legend_lines(score: Score) -> list[str]:
    """Return the lines that explain the signs of the tab, three spaces between two of a line."""
    more = [f"{each.written}  {each.meaning}" for each in explained_signs(score)]
    return [*LEGEND.split("\n"), *more]


def tuning(score: Score) -> list[str]:
    """Return the lines on tuning at the foot of a sheet, where it is not the usual one."""
    said = [] if score.intonation == EQUAL else [score.intonation.words]
    return said + ([f"A = {score.reference_hz:g} Hz"] if score.reference_hz != _USUAL_HZ else [])


def band_said(score: Score) -> str:
    """Return form and feel, or nothing: ``Twelve bars, Rumba; 2 choruses of 12 bars``."""
    band = score.band
    if band is None:
        return ""
    many = "1 chorus" if band.choruses == 1 else f"{band.choruses} choruses"
    return f"{band.form}, {band.feel}; {many} of {band.bars_a_chorus} bars"


def chords_said(score: Score, bar: int) -> str:
    """Return the chord symbols under *bar*, counted from 0; nothing without a band."""
    if score.band is None:
        return ""
    start = Fraction(bar * score.meter.beats)
    inside = score.band.changing(start, start + score.meter.beats)
    chords = [score.band.chord_at(start), *(chord for at, chord in inside if at > start)]
    return " ".join(each.symbol(score.key) for each in chords)


def _over(score: Score) -> list[str]:
    """Return the lines on the band: its form and feel, and its chords bar by bar."""
    if score.band is None:
        return []
    count = range(min(score.bars, score.band.bars_a_chorus))
    chords = " | ".join(chords_said(score, bar) for bar in count)
    return [f"Over: {band_said(score)}", *wrapped_bar(f"Chords: {chords} |")]


def said_over(score: Score) -> list[str]:
    """Return the marks over single notes, by bar and beat: echoes, changes of embouchure."""
    said = [(start, f"{ECHO}, {end - start} beats") for start, end in score.echoes]
    plan = score.embouchure
    now = None if plan is None or plan.split else plan.rungs  # which the heading says
    for note in score.notes:
        if plan and note.embouchure and note.embouchure is not now:
            said.append((note.start, note.embouchure.value))
        if not note.beside:  # of several holes the tab says where the tongue is
            now = note.embouchure
    return [f"{_place(score, at)}: {words}" for at, words in sorted(said, key=lambda row: row[0])]


def _place(score: Score, at: Fraction) -> str:
    """Return bar and beat from 1; a pick-up is bar 0, as in MusicXML."""
    bar, beat = divmod(at, score.meter.beats)
    return f"bar {bar + (0 if score.pickup else 1)} beat {beat + 1}"


def tempo_said(score: Score) -> str:
    """Return tempo, goal, feel and embouchure in words."""
    goal = f" to {score.tempo_goal_bpm}" if score.tempo_goal_bpm else ""
    feel = f", {score.feel.value}" if score.feel is Feel.SHUFFLE else ""
    mouth = f", {score.embouchure.label}" if score.embouchure else ""
    return f"tempo {score.tempo_bpm}{goal}{feel}{mouth}"


def bar_text(score: Score, bar: Bar) -> str:
    """Return the tab of one bar, without tied noteheads and rests that only continue."""
    words = []
    for at, written in enumerate(bar):
        if at == 0 or not _goes_on(bar, at):
            words.append(_shown(written, first=at == 0))
        words += [f" ,{way}" for way in _breath_after(score, written, written.length)]
    return "".join(words)


def bar_said(score: Score, bar: Bar) -> str:
    """Return the tab of one bar with the length of every note and rest, ties added up."""
    words: list[str] = []
    for written, length in _joined(bar):
        gap = " " if words else ""
        words.append(_timed(written, length, gap))
        words += [f" ,{way}" for way in _breath_after(score, written, length)]
    return "".join(words)


def bar_in_words(score: Score, bar: Bar) -> str:
    """Return the tab of one bar as a teacher reads it aloud, with pauses between its notes.

    A screen reader leaves out most of the signs of ``bar_said``.
    """
    words: list[str] = []
    for written, length in _joined(bar):
        words.append(_in_words(score, written, length))
        words += [f"breathe {way}" for way in _breath_after(score, written, length)]
    return "; ".join(words)


def _breath_after(score: Score, written: NotatedValue, length: Fraction) -> list[str]:
    """Return the way of the breath after a note that ends *length* beats on, or nothing."""
    note = written.note
    if note is None or note.end > written.start + length:
        return []
    breath = score.breath_after(note)
    return [breath.way.value] if breath else []


def _in_words(score: Score, written: NotatedValue, length: Fraction) -> str:
    lasts = "" if length == 1 else f" for {beats_in_words(length)}"
    if written.note is None:
        return f"rest{lasts}"
    note = written.note
    if written.tied_on:
        return f"{note.words} goes on{lasts}"
    shaped = [*(["accented"] if note.accent else []), *note.style.said]
    return ", ".join([f"{_way_in_words(score, note)}{note.words}{lasts}", *shaped])


def _way_in_words(score: Score, note: Note) -> str:
    """Return how *note* follows the one before it without a new attack; else nothing."""
    if held := score.held_over(note):
        others_only_leave = len(held) == len(note.reeds)
        return "hold only " if others_only_leave else f"hold {hole_numbers(held)} into "
    slow = f"over {beats_in_words(note.slide_beats)} " if note.slide_beats is not None else ""
    return f"slide {slow}to " if note.joined else ""


_PARTS = {
    Fraction(1, 2): "half a beat", Fraction(1, 3): "a third of a beat",
    Fraction(2, 3): "two thirds of a beat", Fraction(1, 4): "a quarter of a beat",
    Fraction(3, 4): "three quarters of a beat",
}  # fmt: skip


def beats_in_words(beats: Fraction) -> str:
    """Return a length as it is said.

    >>> [beats_in_words(Fraction(each)) for each in ("1", "1/2", "3/2", "2", "8/3")]
    ['1 beat', 'half a beat', '1 and a half beats', '2 beats', '8/3 beats']
    """
    if beats in _PARTS:
        return _PARTS[beats]
    if beats % 1 == Fraction(1, 2):
        return f"{beats // 1} and a half beats"
    return "1 beat" if beats == 1 else f"{beats} beats"


def _joined(bar: Bar) -> Iterator[tuple[NotatedValue, Fraction]]:
    """Yield the first written piece of each note or rest of *bar*, and its length in the bar."""
    firsts = [at for at in range(len(bar)) if at == 0 or not _goes_on(bar, at)]
    for here, there in zip(firsts, [*firsts[1:], len(bar)], strict=True):
        yield bar[here], sum((each.length for each in bar[here:there]), Fraction(0))


def _timed(written: NotatedValue, length: Fraction, gap: str) -> str:
    lasts = "" if length == 1 else f":{length}"
    if written.note is None:
        return f"{gap}r{lasts}"
    note = written.note
    if written.tied_on:
        return f"~{note.tab}{lasts}"
    slow = f":{note.slide_beats} " if note.slide_beats is not None else ""
    return (f"~{slow}" if note.joined else gap) + _styled(note) + lasts


def _styled(note: Note) -> str:
    """Return the tab of *note* with its accent and the words of its style before it."""
    return " ".join([*note.style.words, note.tab + ("!" if note.accent else "")])


def _degree_text(bar: Bar) -> str:
    degrees = [each.note.degrees for each in bar if each.note and not each.tied_on]
    return " ".join(degrees) or "r"


def _goes_on(bar: list[NotatedValue], at: int) -> bool:
    still_silent = bar[at].note is None and bar[at - 1].note is None
    return bar[at].tied_on or still_silent


def _shown(written: NotatedValue, *, first: bool) -> str:
    gap = "" if first else " "
    if written.note is None:
        return gap + "."
    if written.tied_on:
        return gap + "_"
    return ("~" if written.note.joined else gap) + _styled(written.note)
