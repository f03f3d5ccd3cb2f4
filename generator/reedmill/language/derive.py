"""``from``: a drill that takes over the lines of another, and whether a drill is whole."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import fields, replace

from reedmill.errors import PatternError, close_match
from reedmill.language.drill import Drill, Event, Group, Music
from reedmill.source import Span

# The lines a child may take over; its place, title and parent are always its own.
_TAKEN_OVER = tuple(
    field.name for field in fields(Drill) if field.name not in ("span", "title", "parent", "texts")
)
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
        return drill
    parent = done[drill.parent.title]
    missing = [name for name in _TAKEN_OVER if not getattr(drill, name)]
    if drill.play:  # a drill is either music or phrase and rungs; its own choice wins
        missing = [name for name in missing if name not in ("phrase", "rungs", "order")]
    if drill.phrase or drill.rungs:
        missing = [name for name in missing if name != "play"]
    taken = {name: getattr(parent, name) for name in missing}
    return replace(drill, texts=parent.texts | drill.texts, **taken)


def _check_whole(drill: Drill) -> None:
    """Raise ``PatternError`` unless *drill* has all it needs to be played."""
    used = dict(_roles(drill.phrase + drill.play + drill.ending))
    if drill.play and drill.phrase:
        raise _lacking(drill, "has both a phrase and a play line", "Keep one of them.")
    if not drill.play and not drill.phrase:
        what = "has rungs but no phrase" if drill.rungs else "has nothing to play"
        raise _lacking(drill, what, "Add a line such as: phrase anchor rung")
    if drill.phrase and not drill.rungs:
        raise _lacking(
            drill,
            "has a phrase but no rungs to play it for",
            "Add a line such as: rungs -3 -3' -3'' (music without rungs starts with play).",
        )
    if "anchor" in used and drill.anchor is None:
        raise PatternError(
            f'"{drill.title}" uses its anchor but does not say which reed it is',
            "Add a line such as: anchor -2",
            used["anchor"],
        )
    for role, span in _roles(drill.play + drill.ending):
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


def _lacking(drill: Drill, what: str, remedy: str) -> PatternError:
    return PatternError(f'"{drill.title}" {what}', remedy, drill.span)


def _roles(music: Music) -> Iterator[tuple[str, Span]]:
    """Every role word of *music* with its place."""
    for item in music:
        if isinstance(item, Group):
            yield from _roles(item.items)
        elif isinstance(item, Event) and item.role:
            yield item.role, item.span
