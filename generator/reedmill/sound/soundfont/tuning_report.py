"""The report on a SoundFont preset's tuning, for people and for programs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import groupby

from reedmill.base.text import printable
from reedmill.sound.soundfont.tuning import Fault, KeyTuning, PresetTuning

_NOTES = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")

_REASONS = {
    Fault.NONE: "it could not be brought within 2 cents",
    Fault.SILENT: "the font has no sound there",
    Fault.SHORT: "the sound is too short to have its pitch measured",
    Fault.NO_PITCH: "the sound has no clear pitch",
    Fault.OTHER_NOTE: "another note sounds than the key's own",
    Fault.WAVERS: "the pitch wavers within the note: a vibrato, or layers that are out of tune "
    "with each other",
}


def note_name(key: int) -> str:
    """Return the usual name of a MIDI key.

    >>> note_name(60), note_name(70)
    ('C4', 'Bb4')
    """
    return f"{_NOTES[key % 12]}{key // 12 - 1}"


def tuning_text(tuning: PresetTuning) -> str:
    """Return a table of every key, in cents before and after correction, and the verdict."""
    preset = tuning.preset
    head = printable(f"{tuning.font.path}, program {preset.program} ({preset.name})")
    columns = " key  note   before   after   wavers   (cents)"
    return "\n".join([head, "", columns, *map(_line, tuning.keys), "", *_verdict(tuning)])


def _line(found: KeyTuning) -> str:
    start = f"{found.key:>4}  {note_name(found.key):<4}"
    if not found.hz:
        return f"{start}      --      --       --   not to be trusted: {found.fault.value}"
    after = f"{_signed(found.after_cents):>8}" if found.fault is Fault.NONE else "      --"
    mark = "" if found.trusted else f"   not to be trusted: {found.fault.value}"
    return f"{start}{_signed(found.before_cents):>8}{after}{found.wavers_cents:>9.1f}{mark}"


def _signed(cents: float) -> str:
    return f"{round(cents, 1) + 0.0:+.1f}"


def _verdict(tuning: PresetTuning) -> Iterator[str]:
    good = [each for each in tuning.keys if each.trusted]
    if good:
        before = [each.before_cents for each in good]
        worst = max(abs(each.after_cents) for each in good)
        spread = f"{_signed(min(before))} to {_signed(max(before))} cents"
        yield f"As the font plays them: {spread}. After correction: within {worst:.1f} cents."
    if tuning.trusted:
        yield "Every key can be trusted after correction."
        return
    bad = len(tuning.keys) - len(good)
    which = "any key" if not good else f"{bad} of {len(tuning.keys)} keys"
    yield f"This preset cannot be trusted on {which}:"
    for keys, reason in _reasons(tuning.keys):
        yield f"  {keys}: {reason}"
    if good:
        yield "As a voice, a key up to 3 semitones from a trusted one is played by that one."


def _reasons(keys: Iterable[KeyTuning]) -> Iterator[tuple[str, str]]:
    """Yield runs of neighbouring keys that share a fault, and the fault in words."""
    for (trusted, fault), run in groupby(keys, lambda each: (each.trusted, each.fault)):
        if not trusted:
            found = list(run)
            low, high = found[0].key, found[-1].key
            names = note_name(low) if low == high else f"{note_name(low)} to {note_name(high)}"
            yield names, _reason(fault, found)


def _reason(fault: Fault, found: list[KeyTuning]) -> str:
    if fault is Fault.WAVERS:
        return f"{_REASONS[fault]} (up to {max(each.wavers_cents for each in found):.1f} cents)"
    return _REASONS[fault]


def tuning_data(tuning: PresetTuning) -> dict[str, object]:
    """Return the measurements for ``--json``; ``before_cents`` is null without a pitch."""
    preset = tuning.preset
    return {
        "font": str(tuning.font.path),
        "program": preset.program,
        "bank": preset.bank,
        "name": preset.name,
        "trusted": tuning.trusted,
        "keys": [_row(each) for each in tuning.keys],
    }


def _row(found: KeyTuning) -> dict[str, object]:
    heard, right = bool(found.hz), found.fault is Fault.NONE
    return {
        "key": found.key,
        "note": note_name(found.key),
        "before_cents": round(found.before_cents, 3) if heard else None,
        "after_cents": round(found.after_cents, 3) + 0.0 if right else None,
        "wavers_cents": round(found.wavers_cents, 3) if heard else None,
        "settles_s": round(found.settles_s, 3) if heard else None,
        "trusted": found.trusted,
        "reason": "" if found.trusted else _REASONS[found.fault],
    }
