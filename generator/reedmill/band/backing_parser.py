"""Parse text into forms and feels with Lark, and point at each mistake."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from lark import Lark
from lark.exceptions import UnexpectedInput

from reedmill.band.backing_builder import BandBuilder
from reedmill.band.backing_messages import explain_backing
from reedmill.band.backing_mistakes import backing_mistake
from reedmill.band.backing_recovery import recovered_backings
from reedmill.band.backing_values import ABOVE, READING
from reedmill.band.feel import BandFeel
from reedmill.band.form import Form
from reedmill.base.errors import PatternError
from reedmill.base.gathering import apart, is_gathering, with_sources
from reedmill.base.grammar_tables import parser_of
from reedmill.base.kinds import FEEL, FORM
from reedmill.base.source import Span
from reedmill.language import read_pattern

FormOrFeel = Form | BandFeel
"""What a file may hold."""


def parse_band(text: str, name: str = "band") -> tuple[FormOrFeel, ...]:
    r"""Parse the forms and feels written in *text*, in order; errors call the file *name*.

    Raises ``PatternError`` for anything else.

    >>> [form] = parse_band('form "Home"\n bars I7 x2 | V7 I7')
    >>> form.title, len(form.bars)
    ('Home', 3)
    """
    found: list[FormOrFeel] = []
    with apart():
        try:
            found = _read(text, name)
        except PatternError as error:
            if not is_gathering():
                raise error.with_source(text) from None
            found = recovered_backings(_read, text, name)
            with_sources({name: text})
            return tuple(found)
        if not found:
            raise backing_mistake("nothing-here", Span(name, 1, 1))
    return tuple(found)


def _read(text: str, name: str, above: int = 0) -> list[FormOrFeel]:
    """Parse *text*, which begins *above* lines down in its file; errors lack their source line."""
    reading, start = READING.set(name), ABOVE.set(above)
    try:
        found: list[FormOrFeel] = _parser().parse(text + "\n")  # type: ignore[assignment]
        return found
    except UnexpectedInput as error:
        raise explain_backing(error, text, name).lower(above) from None
    finally:
        READING.reset(reading)
        ABOVE.reset(start)


def parse_band_file(path: Path) -> tuple[FormOrFeel, ...]:
    """Parse the forms and feels in the file at *path*; errors as for pattern files."""
    return parse_band(read_pattern(path, BAND_KINDS), str(path))


BAND_KINDS = (FORM, FEEL)
"""The kinds of file forms and feels are in; one may hold both."""


@cache
def _parser() -> Lark:
    return parser_of("reedmill.band", BandBuilder())
