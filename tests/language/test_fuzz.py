"""A sample of the two fuzzers: texts thrown at the language, and drills that can be played.

The whole campaigns are ``tests/fuzz/fuzz_parser.py`` and ``tests/fuzz/fuzz_rendering.py``;
``--seed SEED --only NUMBER`` of either runs one of their inputs alone.
"""

from __future__ import annotations

import signal
from collections.abc import Iterator

import fuzz_parser
import fuzz_rendering
import pytest

from reedmill.formats.text_tab import tab_lines
from reedmill.harp import Harp
from reedmill.theory.positions import Position

SEED = 20


@pytest.fixture(autouse=True)
def _own_alarm() -> Iterator[None]:
    """The fuzzers give up an endless input by an alarm; whose it was before has it back."""
    before = signal.getsignal(signal.SIGPROF)
    yield
    signal.signal(signal.SIGPROF, before)


def test_any_text_is_read_or_refused_at_a_place_and_laid_out_for_good() -> None:
    tally = fuzz_parser.run_share(SEED, range(600))
    assert tally.failures == []
    assert min(tally.counts["read"], tally.counts["refused"], tally.counts["drills played"]) > 20


def test_any_drill_that_can_be_played_is_whole_in_every_format() -> None:
    tally = fuzz_rendering.run_share(SEED, range(40))
    assert tally.failures == []
    assert tally.counts["played"] > 30


def test_a_drill_that_lacks_a_note_in_a_format_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    lines = tab_lines
    monkeypatch.setattr(
        fuzz_rendering, "tab_lines", lambda score: [line.replace("-2", "") for line in lines(score)]
    )
    drawn = fuzz_rendering.Drawn('drill "Two"\n  play -2 -3\n', Harp("C"),
                                 Position(2))  # fmt: skip
    wrong = fuzz_rendering.run_one(drawn, 0, fuzz_rendering.Tally())
    assert wrong == "tab: ['-3'] and not ['-2', '-3']"
