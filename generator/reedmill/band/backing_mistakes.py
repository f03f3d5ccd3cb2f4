"""Every mistake a form or a feel can make, in one table.

A row holds what is said of the mistake, a text that makes it, and what to write instead.
The messages, their tests and the list in ``patterns/BACKING.md`` are made from it.
"""

from __future__ import annotations

from collections.abc import Callable

from reedmill.band.backing_keywords import (
    BASS_WORDS,
    COMP_WORDS,
    MAX_BARS,
    MAX_LINES,
    MAX_ON_A_FILE,
    MAX_PATTERN_BARS,
    MAX_SWING,
)
from reedmill.base.errors import PatternError
from reedmill.base.source import Span
from reedmill.language.mistakes import Mistake
from reedmill.language.words import MAX_TITLE


def _form(*lines: str, bars: str = "I7 x4") -> str:
    return 'form "Mine"\n' + "".join(f"  {line}\n" for line in (f"bars {bars}", *lines) if line)


def _feel(*lines: str) -> str:
    return 'feel "Mine"\n' + "".join(f"  {line}\n" for line in (*lines, "bass root on 1"))


_WIDEST = 60  # characters of an example in the list
_TAKES = "The {word} line takes {takes}: {example}"
_CHORDS = (
    "Write the degree as a Roman numeral, upper case for a major third and lower case for a minor "
    "one, and the kind of chord after it: I7, IV7, ii7, bVII, V7#9, iim7b5, #ivdim7."
)
_COUNT = (
    "Write a place in the bar: 4/4 counts 1 1e 1& 1a 2 ... to 4a, and 12/8, whose beats are taps "
    "of the foot, 1 1& 1a 2 ... to 4a."
)

_ROWS = (
    # --- the file
    Mistake(
        "unclosed-quote", "a quote that is never closed",
        "this quote is never closed",
        'Put a " at the end of the text, on this line.',
        _form().replace('Mine"', "Mine"), ("Mine", 'Mine"'),
    ),
    Mistake(
        "curly-quote", "curly quotes",
        "this is a curly quote: {quote}",
        'Write straight quotes, such as form "Twelve bars".',
        _form().replace('"Mine"', "\u201cMine\u201d"), ("\u201cMine\u201d", '"Mine"'),
    ),
    Mistake(
        "mistyped-line", "a line that starts with a mistyped word",
        'no line of a {block} starts with "{word:.40}". Did you mean "{near}"?',
        "Write for example: {example}",
        _form().replace("bars", "bras"), ("bras", "bars"),
    ),
    Mistake(
        "unknown-line", "a line that starts with a word of no meaning",
        'no line of a {block} starts with "{word:.40}".',
        "A line of a {block} starts with one of these: {known}; or with # for a comment.",
        _form("hum along"), ("hum", "# hum"),
    ),
    Mistake(
        "line-of-the-other", "a line of a feel in a form, or of a form in a feel",
        "a {word} line belongs in a {other}, not in a {block}",
        'Write it below a line of its own, such as: {other} "Mine". A form says which chords, '
        "a feel how they are played.",
        _form("swing 2 to 1"), ("  swing", 'feel "Mine"\n  drums ride on 1\n  swing'),
    ),
    Mistake(
        "line-before-title", "a line before any form or feel",
        "this {word} line stands before any form or feel",
        'Start with a line such as: form "Twelve bars", or: feel "Medium shuffle"',
        "bars I7\n" + _form(), ("bars I7\n", ""),
    ),
    Mistake(
        "line-too-short", "a line that stops too early",
        "this {word} line stops too early",
        _TAKES,
        _feel("swing 2 to"), ("2 to", "2 to 1"),
    ),
    Mistake(
        "does-not-fit", "a word or sign where it has no meaning",
        '"{found:.40}" does not fit here',
        _TAKES,
        _feel("tempo fast"), ("fast", "160"),
    ),
    Mistake(
        "invisible-character", "a character that cannot be seen",
        "the invisible character U+{code:04X} does not belong here",
        _TAKES,
        _form(bars="I7 \0"), (" \0", ""),
    ),
    Mistake(
        "nothing-here", "a file without a form or feel",
        "there is no form and no feel here",
        'Start with a line such as: form "Twelve bars", or: feel "Medium shuffle"',
        "# later\n", ("# later\n", _form()),
    ),
    Mistake(
        "empty-title", "a title with nothing in it",
        "this {block} has no title",
        'Write what players call it, such as: {block} "Twelve bars"',
        _form().replace("Mine", " "), ('" "', '"Mine"'),
    ),
    Mistake(
        "text-too-long", "a text that is too long",
        "this {what} has {count} characters",
        "Write at most {most}.",
        _form().replace("Mine", "M" * (MAX_TITLE + 1)), ("M" * (MAX_TITLE + 1), "Mine"),
    ),
    Mistake(
        "same-title", "two of one title",
        'there are two {block}s called "{title:.60}"',
        "Give each a title of its own.",
        _form() + _form(), ("Mine", "Yours"),
    ),
    Mistake(
        "too-many", "too many in one file",
        "this file holds {count} forms and feels",
        "Write at most {most} into one file.",
        "".join(_form().replace("Mine", f"{n}") for n in range(MAX_ON_A_FILE + 1)),
        (_form().replace("Mine", "0"), ""),
    ),
    Mistake(
        "second-line", "the same line twice",
        "this {block} has a second {word} line",
        "Keep one of them. (Only bars, bass, comp, drums and fill may come several times.)",
        _feel("tempo 60", "tempo 70"), ("  tempo 60\n", ""),
    ),
    Mistake(
        "number-out-of-range", "a number that is too high or too low",
        "{word} {number:.12} is out of range",
        "Write a whole number from {least} to {most}.",
        _feel("tempo 600"), ("600", "60"),
    ),
    # --- forms
    Mistake(
        "no-such-position", "a position nobody plays in",
        'there is no position "{word:.40}".{hint}',
        "Write numbers from 1 to 12, or words for them: positions 1st, cross, 3",
        _form("positions corss"), ("corss", "cross"),
    ),
    Mistake(
        "chord-by-name", "a chord by its name",
        '"{chord:.20}" is a chord of one key, and a form plays in every key',
        _CHORDS,
        _form(bars="C7 x4"), ("C7", "I7"),
    ),
    Mistake(
        "unknown-chord", "a chord nobody knows",
        '"{chord:.20}" is not a chord of a form',
        _CHORDS,
        _form(bars="I77"), ("I77", "I7"),
    ),
    Mistake(
        "sign-behind", "a flat or sharp after its numeral",
        '"{chord:.20}" has its {sign} after the numeral',
        "Write {meant}: the {sign} comes first.",
        _form(bars="VIIb7 | I7"), ("VIIb7", "bVII7"),
    ),
    Mistake(
        "degree-by-number", "degrees as numbers",
        '"{found:.20}" is a number, and a form has Roman numerals',
        "Write {numerals}.",
        _form(bars="4 | 1"), ("4 | 1", "IV | I"),
    ),
    Mistake(
        "comma-between-bars", "a comma between bars",
        "a comma does not end a bar",
        "Put a | between bars, not a comma: {mended:.100}",
        _form(bars="I7, IV7 | I7"), ("I7, ", "I7 | "),
    ),
    Mistake(
        "times-apart", "a space in how often a bar is played",
        '"{found:.20}" has a space in it',
        "Write {times}, without a space.",
        _form(bars="I7 x 4"), ("x 4", "x4"),
    ),
    Mistake(
        "too-many-chords", "too many chords in a bar",
        "this bar is cut into {count} parts",
        "A bar has room for {most}, lengths counted: IV7:3 V7 are four parts. "
        "Put a | where the next bar starts.",
        _form(bars="I7 IV7 I7 V7 I7"), ("I7 V7 I7", "I7 | V7 I7"),
    ),
    Mistake(
        "empty-share", "a chord that lasts nothing",
        '"{share:.12}" leaves the chord nothing of its bar',
        "Write :2 or :3 after a chord that has two or three parts of the bar, as in I7:3 V7.",
        _form(bars="I7:0 IV7 | I7"), (":0", ":3"),
    ),
    Mistake(
        "nothing-to-repeat", "a repeat sign with nothing before it",
        "% repeats the bar before it, and there is none",
        "Start with a chord, such as: bars I7 | % | %",
        _form(bars="% | I7"), ("%", "I7"),
    ),
    Mistake(
        "number-too-long", "a number with too many digits",
        "this number has {digits:,} digits; at most {most} are read",
        "Write it without zeros in front. No number of a form or feel needs more than three "
        "digits.",
        _form(bars="I7 x000000000004"), ("x000000000004", "x4"),
    ),
    Mistake(
        "repeats-out-of-range", "a bar repeated too often or never",
        '"{times:.12}" is not a number of bars',
        "Write x2 to x{most} after a bar, or the bar alone for one.",
        _form(bars="I7 x0"), ("x0", "x4"),
    ),
    Mistake(
        "too-many-bars", "a form that is too long",
        "this form has {count} bars",
        "Write one chorus of at most {most} bars, and play it several times.",
        _form(bars=f"I7 x{MAX_BARS + 1}"), (f"x{MAX_BARS + 1}", f"x{MAX_BARS}"),
    ),
    Mistake(
        "no-bars", "a form without bars",
        "this form has no bars line",
        "Write the chords of a chorus, with | between bars: bars I7 x4 | IV7 x2 | I7 x2",
        'form "Mine"\n  about "To come."\n', ('about "To come."', "bars I7 x4"),
    ),
    Mistake(
        "tail-too-long", "a turnaround or ending longer than the form",
        "this {word} line has {count} bars, and the form {bars}",
        "Write at most {bars}: the {word} takes the place of the form's last bars.",
        _form("turnaround I7 | V7", bars="I7"), ("I7 | V7", "V7"),
    ),
    Mistake(
        "ends-away", "a form that does not end at home",
        "this form would end on {chord}",
        "Add how it comes home, such as: ending I7. An ending line may end anywhere.",
        _form(bars="ii7 | V7"), ("V7", "V7\n  ending I"),
    ),
    Mistake(
        "no-such-bars", "stops or breaks after the end of the form",
        "{word} up to bar {last}, and the form has {bars} bars",
        "Write bars of the form, such as: {word} 1 to {bars}",
        _form("stops 1 to 8"), ("8", "4"),
    ),
    Mistake(
        "bars-backwards", "stops or breaks from a later bar to an earlier one",
        "these bars go from {first:.12} back to {last:.12}",
        "Write the earlier one first.",
        _form("breaks 4 to 3"), ("4 to 3", "3 to 4"),
    ),
    # --- feels
    Mistake(
        "no-such-meter", "a meter nobody counts",
        "{meter:.12} cannot be counted here",
        "Write 1 to 16 beats over 2, 4 or 8, such as 4/4, 3/4 or 12/8.",
        _feel("meter 4/5"), ("4/5", "4/4"),
    ),
    Mistake(
        "tempo-backwards", "a tempo range from fast to slow",
        "this tempo goes from {slow:.12} to {fast:.12}",
        "Write the slower one first.",
        _feel("tempo 120 to 90"), ("120 to 90", "90 to 120"),
    ),
    Mistake(
        "swing-out-of-range", "a swing that cannot be played",
        "a swing of {first:.12} to {second:.12} cannot be played",
        f"The first half of a beat is the longer one, at most {MAX_SWING} times: "
        "swing 2 to 1 is a full shuffle, swing 3 to 2 a light one. "
        "Leave the line out to play straight.",
        _feel("swing 1 to 2"), ("1 to 2", "2 to 1"),
    ),
    Mistake(
        "swing-in-threes", "swing in a meter of threes",
        "{meter} already counts threes, and this feel swings too",
        "Leave the swing line out, or count in 4/4.",
        _feel("meter 12/8", "swing 2 to 1"), ("  swing 2 to 1\n", ""),
    ),
    Mistake(
        "unknown-instrument", "an instrument General MIDI does not have",
        'there is no instrument "{name:.60}".{hint}',
        "Write a name of the General MIDI sound set, such as "
        '"Acoustic Bass" or "Drawbar Organ".',
        _feel('sounds comp "Drawbar Orgen"'), ("Orgen", "Organ"),
    ),
    Mistake(
        "unknown-player", "a player the band does not have",
        'there is no player "{word:.40}".{hint}',
        "Write {known}.",
        _feel('sounds brass "Tuba"'), ("brass", "bass"),
    ),
    Mistake(
        "unknown-bass", "a tone the bass does not know",
        'the bass has no word "{word:.40}".{hint}',
        f"Write one of: {', '.join(BASS_WORDS)}. For example: bass root on 1, fifth on 3",
        _feel().replace("root", "rooot"), ("rooot", "root"),
    ),
    Mistake(
        "unknown-comp", "a way to comp nobody knows",
        'there is no way to comp called "{word:.40}".{hint}',
        f"Write {' or '.join(COMP_WORDS)}, or only the beats: comp on 2 4, held on 1",
        _feel("comp shrt on 2 4"), ("shrt", "short"),
    ),
    Mistake(
        "unknown-drums", "a drum that is not there",
        'the kit has no drum "{word:.40}".{hint}',
        "Write one of: {known}.",
        _feel("drums snair on 2 4"), ("snair", "snare"),
    ),
    Mistake(
        "nothing-named", "beats without what is on them",
        "this does not say {what} it is",
        "Write the word before on, such as: bass root on 1, or drums ride on 1 2 3 4",
        _feel("drums on 1 2"), ("on 1", "ride on 1"),
    ),
    Mistake(
        "no-such-beat", "a beat the bar does not have",
        "there is no {place:.20} in {meter}",
        _COUNT,
        _feel("comp on 5"), ("5", "4"),
    ),
    Mistake(
        "comma-between-beats", "a comma between beats",
        "this comma stands between two beats",
        "Put a space between beats: {mended:.100}",
        _feel("drums snare on 2,4"), ("2,4", "2 4"),
    ),
    Mistake(
        "place-twice", "the same beat twice",
        "{place:.20} is struck twice here",
        "Keep one of them.",
        _feel("comp on 2 4 2"), ("2 4 2", "2 4"),
    ),
    Mistake(
        "lead-on-one", "a leading note where the chord is due",
        "a leading note on 1 comes too late: the chord it leads to is already there",
        "Write lead on a later beat, such as: bass root on 1, lead on 4",
        _feel().replace("root", "lead"), ("lead", "root"),
    ),
    Mistake(
        "length-out-of-range", "a stroke that lasts nothing, or more than a bar",
        '"{place:.20}" cannot be held so long',
        "Write :1/2 for half a beat, :2 for two, up to a bar.",
        _feel("comp on 1:0"), ("1:0", "1:2"),
    ),
    Mistake(
        "drums-with-length", "a drum stroke with a length",
        '"{place:.20}" has a length, and a drum stroke has none',
        "Write the beat alone: {beat}",
        _feel("drums ride on 1:2"), ("1:2", "1"),
    ),
    Mistake(
        "too-many-strokes", "too many strokes in a bar",
        "this bar has {count} strokes",
        "Write at most {most}.",
        _feel("drums " + ", ".join(
            f"{drum} on " + " ".join(f"{beat}{part}" for beat in "1234" for part in ("", *"e&a"))
            for drum in ("kick", "snare", "ride", "claves", "crash"))),
        (", crash on 1 1e 1& 1a 2 2e 2& 2a 3 3e 3& 3a 4 4e 4& 4a", ""),
    ),
    Mistake(
        "too-many-pattern-bars", "a pattern that is too long",
        "this {word} line has {count} bars",
        "Write at most {most}; then the pattern goes round.",
        _feel("comp " + " | ".join(["on 2"] * (MAX_PATTERN_BARS + 1))), ("on 2 | ", ""),
    ),
    Mistake(
        "too-many-lines-of-one", "too many lines of one player",
        "this feel has {count} {word} lines",
        "Write at most {most}; one drums line may hold several drums, with commas between.",
        _feel(*["drums ride on 1"] * (MAX_LINES + 1)), ("  drums ride on 1\n", ""),
    ),
    Mistake(
        "unknown-leaner", "a player or a drum that is not there",
        'nobody in the band is called "{word:.40}".{hint}',
        "Write bass, comp, drums, or a drum: lean snare 12 late, ride 4 early",
        _feel("lean snair 12 late"), ("snair", "snare"),
    ),
    Mistake(
        "leans-twice", "one player who leans twice",
        "this line says twice how {who} leans",
        "Keep one of them.",
        _feel("lean ride 4 early, ride 6 late"), (", ride 6 late", ""),
    ),
    Mistake(
        "nobody-plays", "a feel in which nobody plays",
        "nobody plays in this feel",
        "Add a bass, comp or drums line, such as: drums ride on 1 2 3 4, snare on 2 4",
        'feel "Mine"\n  tempo 60\n', ("tempo 60", "bass root on 1"),
    ),
)  # fmt: skip

MISTAKES = {row.key: row for row in _ROWS}


def backing_mistake(key: str, span: Span, /, **values: object) -> PatternError:
    """Return the error for the row *key* of the table, its templates filled with *values*.

    >>> str(backing_mistake("no-bars", Span("mine.form", 1, 1))).splitlines()[0]
    'mine.form:1:1: this form has no bars line'
    """
    row = MISTAKES[key]
    return PatternError(row.fact.format(**values), row.remedy.format(**values), span, key=key)


def mistakes_table(said: Callable[[Mistake], str]) -> str:
    """Return the table of all mistakes in Markdown, as ``patterns/BACKING.md`` has it.

    *said* gives the first line of the message a row's example earns, without its place.
    """
    head = "| slip | for example | what is said | instead |\n|---|---|---|---|\n"
    return head + "".join(
        f"| {row.label} | {_code(_wrong_line(row))} | {_cell(said(row))} | {_mended(row)} |\n"
        for row in _ROWS
    )


def _wrong_line(row: Mistake) -> str:
    """Return the line of the example that its correction changes."""
    at = row.broken.index(row.cure[0])
    line = row.broken[row.broken.rfind("\n", 0, at) + 1 :].split("\n")[0]
    return line.strip()


def _mended(row: Mistake) -> str:
    """Return that line corrected; some corrections only take something away."""
    wrong, right = (each.strip() for each in row.cure)
    if not right:
        first = wrong.split("\n")[0]
        return f"leave out {_code(first)}"
    changed = _wrong_line(row).replace(wrong, right, 1)
    return _code(" / ".join(line.strip() for line in changed.split("\n") if line.strip()))


def _code(text: str) -> str:
    shown = "".join(c if c.isprintable() else "\N{MIDDLE DOT}" for c in text)
    shown = shown if len(shown) <= _WIDEST else shown[: _WIDEST - 3] + "..."
    return f"`{_cell(shown)}`"


def _cell(text: str) -> str:
    return text.replace("|", "\\|")
