"""``from``: a drill that takes over the lines of another, and whether a drill is whole."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import fields, replace

from reedmill.errors import PatternError, close_match
from reedmill.harp import HOLES, Reed
from reedmill.language.drill import Drill, Event, Group, Item, Move, Music, Section
from reedmill.source import Span

# The lines a child may take over; its place, title, parent and move are always its own.
_OWN = ("span", "title", "parent", "move", "texts")
_TAKEN_OVER = tuple(field.name for field in fields(Drill) if field.name not in _OWN)
# A drill is either music, or phrase and rungs, or sections: writing one kind puts the
# parent's other kinds aside.
_ASIDE = {
    "play": ("phrase", "rungs", "order", "ending", "tune", "sections"),
    "tune": ("phrase", "rungs", "order", "ending", "play", "sections"),
    "phrase": ("play", "tune", "sections"),
    "rungs": ("play", "tune"),
    "sections": ("phrase", "ending", "play", "tune"),
}
_RELATIVE = ("rung", "previous", "next")
_OF_THE_LIST = (*_RELATIVE, "first", "last")


def derive_all(drills: list[Drill], library: Iterable[Drill]) -> tuple[Drill, ...]:
    """*drills* with every ``from`` carried out; each is checked to be whole.

    A name is looked for in *drills* first, then in *library*.  Raises ``PatternError``
    for a title used twice, an unknown parent, or drills that derive from each other.
    """
    own: dict[str, Drill] = {}
    for drill in drills:
        if drill.title in own:
            raise PatternError(
                f'there are two drills called "{drill.title}" in this file',
                "Give one of them another title.",
                drill.span,
            )
        own[drill.title] = drill
    known = {drill.title: drill for drill in library} | own
    done: dict[str, Drill] = {}
    for drill in drills:
        for each in reversed(_line_of_descent(drill, known)):
            if each.title not in done:
                done[each.title] = _derived(each, done) if each.title in own else each
    whole = tuple(done[title] for title in own)
    for drill in whole:
        _check_whole(drill)
    return whole


def _line_of_descent(drill: Drill, known: dict[str, Drill]) -> list[Drill]:
    """*drill*, its parent, its parent's parent, up to one that derives from nothing."""
    line = [drill]
    while (parent := line[-1].parent) is not None:
        title = parent.title
        if title not in known:
            others = [name for name in known if name != line[-1].title]
            raise PatternError(
                f'there is no drill "{title}" to derive from.{close_match(title, others)}',
                "Name a drill of this file or of the library, exactly as its title is written.",
                parent.span,
            )
        if known[title] in line:
            raise PatternError(
                f'"{line[-1].title}" derives from itself in a circle',
                "One drill of the circle must stand on its own, without a from line.",
                parent.span,
            )
        line.append(known[title])
    return line


def _derived(drill: Drill, done: dict[str, Drill]) -> Drill:
    if drill.parent is None:
        if drill.move:
            raise PatternError(
                "there is nothing to move: this drill has no from line",
                'Add one, such as: from "Home from every rung"; its reeds are then moved.',
                drill.move.span,
            )
        return drill
    parent = done[drill.parent.title]
    if drill.move:
        parent = moved(parent, drill.move)
    aside = {name for kind, names in _ASIDE.items() if getattr(drill, kind) for name in names}
    taken = {
        name: getattr(parent, name)
        for name in _TAKEN_OVER
        if not getattr(drill, name) and name not in aside
    }
    return replace(drill, texts=parent.texts | drill.texts, **taken)


def _check_whole(drill: Drill) -> None:
    """Raise ``PatternError`` unless *drill* has all it needs to be played."""
    if not drill.parts:
        what = "has rungs but no phrase" if drill.rungs else "has nothing to play"
        raise _lacking(drill, what, "Add a line such as: phrase anchor rung")
    for part in drill.parts:
        _check_part(drill, part)


def _check_part(drill: Drill, part: Section) -> None:
    kinds = [kind for kind in ("phrase", "play", "tune") if getattr(part, kind)]
    if len(kinds) > 1:
        what = f"has both a {kinds[0]} and a {kinds[1]} line"
        raise _lacking(drill, what, "Keep one of them, or put a section line between.")
    if not kinds:
        where = f'section "{part.name}" ' if part.name else ""
        what = "has rungs but no phrase" if drill.rungs else "has nothing to play"
        raise _lacking(drill, where + what, "Add a line such as: phrase anchor rung")
    if part.phrase and not drill.rungs:
        raise _lacking(
            drill,
            "has a phrase but no rungs to play it for",
            "Add a line such as: rungs -3 -3' -3'' (music without rungs starts with play).",
        )
    used = dict(_roles(part.phrase + part.play + part.ending + part.tune))
    if "anchor" in used and drill.anchor is None:
        raise PatternError(
            f'"{drill.title}" uses its anchor but does not say which reed it is',
            "Add a line such as: anchor -2",
            used["anchor"],
        )
    for role, span in _roles(part.play + part.ending + part.tune):
        _check_outside_phrase(drill, role, span)


def _check_outside_phrase(drill: Drill, role: str, span: Span) -> None:
    if role in _RELATIVE:
        raise PatternError(
            f'"{role}" has a meaning only in the phrase, where each rung has its turn',
            "Write first or last for the ends of the rungs line, or the reed itself.",
            span,
        )
    if role in _OF_THE_LIST and not drill.rungs:
        raise PatternError(
            f'"{role}" is a rung, but "{drill.title}" has no rungs line',
            "Write the reed itself, such as -3', or add a line such as: rungs -3 -3' -3''",
            span,
        )


# --- move ----------------------------------------------------------------------------


def moved(drill: Drill, move: Move) -> Drill:
    """*drill* with every reed it names shifted by the holes of *move*; tunes stay."""
    anchor = drill.anchor
    if anchor and anchor.reed:
        anchor = replace(anchor, reed=_shifted(anchor.reed, move))
    return replace(
        drill,
        anchor=anchor,
        rungs=tuple(
            replace(
                item,
                reed=_shifted(item.reed, move),
                floor=_shifted(item.floor, move) if item.floor else None,
            )
            for item in drill.rungs
        ),
        phrase=_moved_music(drill.phrase, move),
        ending=_moved_music(drill.ending, move),
        play=_moved_music(drill.play, move),
        sections=tuple(
            replace(
                each,
                phrase=_moved_music(each.phrase, move),
                ending=_moved_music(each.ending, move),
                play=_moved_music(each.play, move),
            )
            for each in drill.sections
        ),
    )


def _moved_music(music: Music, move: Move) -> Music:
    return tuple(_moved_item(item, move) for item in music)


def _moved_item(item: Item, move: Move) -> Item:
    if isinstance(item, Group):
        endings = tuple(_moved_music(ending, move) for ending in item.endings)
        return replace(item, items=_moved_music(item.items, move), endings=endings)
    if isinstance(item, Event) and item.reed:
        return replace(item, reed=_shifted(item.reed, move))
    return item


def _shifted(reed: Reed, move: Move) -> Reed:
    hole = reed.hole + move.holes
    if hole not in HOLES:
        raise PatternError(
            f"moving {reed.tab} by {abs(move.holes)} leaves the harp: there is no hole {hole}",
            "Move fewer holes, or write the lines of this drill out.",
            move.span,
        )
    return replace(reed, hole=hole)


def _lacking(drill: Drill, what: str, remedy: str) -> PatternError:
    return PatternError(f'"{drill.title}" {what}', remedy, drill.span)


def _roles(music: Music) -> Iterator[tuple[str, Span]]:
    """Every role word of *music* with its place."""
    for item in music:
        if isinstance(item, Group):
            for each in (item.items, *item.endings):
                yield from _roles(each)
        elif isinstance(item, Event) and item.role:
            yield item.role, item.span
