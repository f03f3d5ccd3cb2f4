"""One sheet as LilyPond input: title block, map of the harp, music, plain tab, foot."""

from __future__ import annotations

from reedmill.formats.text import tab_lines
from reedmill.score import Feel, Score
from reedmill.sheet.harp_map import LEGEND, harp_map
from reedmill.sheet.markup import (
    FAINT,
    INK,
    LINE,
    accidental,
    at,
    coloured,
    overlay,
    quoted,
    sized,
    wrapped,
)
from reedmill.sheet.music import lines, music
from reedmill.text import slug
from reedmill.theory.intonation import EQUAL

PAGE_WIDTH = 101.0  # of the printed area, in staff spaces at the staff size below
_STAFF_SIZE = 20  # points
_TAB_HEADING = "plain tab     -3 draw 3     3 blow 3     ' a semitone of bend"
_CAUTION = (
    "Rest lips and jaw often; breathe normally and stop when you feel dizzy. "
    "Pain or dizziness that comes back is a matter for a teacher or a doctor."
)

# The creation date is fixed so that equal scores give equal bytes.
_PREAMBLE = rf"""\version "2.24.3"
\language "english"
#(set-default-paper-size "a4")
#(set-global-staff-size {_STAFF_SIZE})
\paper {{
  left-margin = 16\mm right-margin = 16\mm top-margin = 14\mm bottom-margin = 12\mm
  indent = 11\mm short-indent = 11\mm
  ragged-last-bottom = ##t print-page-number = ##f
  system-system-spacing = #'((basic-distance . 15) (minimum-distance . 12) (padding . 4.5))
  markup-system-spacing = #'((basic-distance . 8) (padding . 4))
  score-markup-spacing = #'((basic-distance . 8) (padding . 4.5))
  markup-markup-spacing = #'((basic-distance . 2) (padding . 1.6))
  oddHeaderMarkup = ##f evenHeaderMarkup = ##f
  bookTitleMarkup = ##f scoreTitleMarkup = ##f
}}
\layout {{
  \numericTimeSignature
  \context {{ \Score \omit BarNumber }}
  \context {{ \Lyrics
    \override LyricText.self-alignment-X = #CENTER
    \override LyricSpace.minimum-distance = #1.2
    \override VerticalAxisGroup.nonstaff-relatedstaff-spacing =
      #'((basic-distance . 4.5) (minimum-distance . 3.5) (padding . 1.1))
    \override VerticalAxisGroup.nonstaff-nonstaff-spacing =
      #'((basic-distance . 4.2) (minimum-distance . 3.0) (padding . 0.5))
    \override InstrumentName.self-alignment-X = #RIGHT
  }}
}}
"""


def pages(scores: list[Score]) -> str:
    """LilyPond input for *scores*; sheet *n* (from 0) comes out as ``sheet-n.pdf``."""
    return _PREAMBLE + "\n".join(_book(number, score) for number, score in enumerate(scores))


def _book(number: int, score: Score) -> str:
    by_line = lines(score)
    # a last line with fewer bars than the one before is not stretched to the margin
    ragged = "##t" if len(by_line) > 1 and by_line[-1] < by_line[-2] else "##f"
    staff = f"\\score {{\n{music(score)}\n\\layout {{ ragged-last = {ragged} }}\n}}"
    return "\n".join(
        [
            f'\\book {{ \\bookOutputName "sheet-{number}"',
            "\\header {",
            f"  title = {quoted(score.title)}",
            f"  subject = {quoted(score.about)}",
            '  pdfcreationDate = "2020-01-01T00:00:00Z" tagline = ##f',
            "}",
            f"\\paper {{ oddFooterMarkup = \\markup {_foot(score)} }}",
            _title_block(score),
            _map_block(score),
            staff,
            *([_listen(score)] if score.listen else []),
            _tab(score),
            "}",
        ]
    )


def _title_block(score: Score) -> str:
    size = 7 if len(score.title) <= 34 else 4.5 if len(score.title) <= 70 else 2
    title = f"\\bold {coloured(INK, sized(size, wrapped(score.title, PAGE_WIDTH)))}"
    about = coloured(FAINT, sized(0.5, wrapped(score.about, PAGE_WIDTH)))
    rule = coloured(INK, f"\\draw-line #'({PAGE_WIDTH:g} . 0)")
    lines = [
        title,
        *([about] if score.about else []),
        "\\vspace #0.1",
        rule,
        "\\vspace #0.3",
        _facts(score),
    ]
    lines += _mouth(score)
    return (
        f"\\markup \\override #'(baseline-skip . 3.4) \\left-column {{\n{chr(10).join(lines)}\n}}"
    )


def _facts(score: Score) -> str:
    """Harp, position, key, meter and tempo in one row."""
    mode = quoted(" minor" if score.key.minor else " major")
    meter = score.meter.name + (" shuffle" if score.feel is Feel.SHUFFLE else "")
    tempo = f" = {score.tempo_bpm}"
    if score.tempo_goal_bpm:
        tempo += f" to {score.tempo_goal_bpm}"
    facts = [
        (0, "harp", _harp_name(score)),
        (15, "position", quoted(score.position.label.replace(" position", ""))),
        (41, "key of the music", f"\\concat {{ {accidental(score.key.name)} {mode} }}"),
        (61, "meter", quoted(meter)),
        (80, "tempo", f"\\concat {{ {_beat(score)} {quoted(tempo)} }}"),
    ]
    layers = [
        overlay(
            at(x, 0, coloured(INK, f"\\sans \\bold {sized(1, value)}")),
            at(x, 2.9, coloured(FAINT, f"\\sans {sized(-3, quoted(label))}")),
        )
        for x, label, value in facts
    ]
    return overlay(*layers)


def _mouth(score: Score) -> list[str]:
    """The embouchure plan as a line of its own, when there is one."""
    if score.embouchure is None:
        return []
    label = coloured(FAINT, sized(-3, quoted("embouchure")))
    plan = coloured(INK, sized(-1, quoted(score.embouchure.label)))
    return [f"\\sans \\concat {{ {label} \\hspace #1 {plan} }}"]


def _harp_name(score: Score) -> str:
    register = quoted(score.harp.register + " " if score.harp.register else "")
    return f"\\concat {{ {register} {accidental(score.harp.key)} }}"


def _beat(score: Score) -> str:
    dotted = "." if score.meter.compound else ""
    value = score.meter.unit // 2 if score.meter.compound else score.meter.unit
    return f"\\fontsize #-1 \\note {{ {value}{dotted} }} #0.9"


def _map_block(score: Score) -> str:
    legend = coloured(FAINT, f"\\sans {sized(-3, quoted(LEGEND))}")
    return _block(3, harp_map(score), "\\vspace #0.6", legend)


def _listen(score: Score) -> str:
    heading = coloured(FAINT, f"\\sans {sized(-3, quoted('listen for'))}")
    return _block(2.8, heading, coloured(INK, sized(0.5, wrapped(score.listen, PAGE_WIDTH))))


def _tab(score: Score) -> str:
    lines = "\n".join(f"\\typewriter {quoted(line)}" for line in tab_lines(score))
    heading = coloured(FAINT, f"\\sans {sized(-3, quoted(_TAB_HEADING))}")
    column = sized(-2, f"\\column {{ {lines} }}")
    return _block(2.6, heading, column)


def _block(skip: float, *lines: str) -> str:
    """A markup of its own: *lines* under one another, *skip* staff spaces apart."""
    body = "\n".join(lines)
    return f"\\markup \\override #'(baseline-skip . {skip:g}) \\left-column {{\n{body}\n}}"


def _foot(score: Score) -> str:
    position = f"{score.harp.name} harp, {score.position.ordinal} position"
    tuning = [] if score.intonation is EQUAL else [score.intonation.words]
    if score.reference_hz != 440:
        tuning.append(f"A = {score.reference_hz:g} Hz")
    name = " · ".join([slug(score.title), position, *tuning])
    left = coloured(FAINT, f"\\sans {sized(-4, quoted(_CAUTION))}")
    right = coloured(FAINT, f"\\sans {sized(-4, quoted(name))}")
    rule = coloured(LINE, f"\\draw-line #'({PAGE_WIDTH:g} . 0)")
    return f"\\override #'(baseline-skip . 2) \\left-column {{\n{rule}\n{left}\n{right}\n}}"
