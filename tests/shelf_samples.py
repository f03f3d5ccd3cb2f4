"""Samples of the shipped forms and feels, for tests that are dear for each."""

from __future__ import annotations

from reedmill.band.feel import BandFeel
from reedmill.band.form import Form
from reedmill.band.shelf import shipped_feels, shipped_forms


def forms_of_each_shape() -> tuple[Form, ...]:
    """One form of each length, with and without a turnaround and with each length of ending."""
    shapes = {
        (len(form.bars), bool(form.turnaround), len(form.ending)): form for form in shipped_forms()
    }
    return tuple(shapes.values())


def feels_of_each_kind() -> tuple[BandFeel, ...]:
    """One feel of each meter, straight and swung."""
    return tuple({(feel.meter, feel.swing): feel for feel in shipped_feels()}.values())
