"""The ``from`` line: a drill takes over the lines of another; then each must be complete."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import fields, replace

from reedmill.base.errors import PatternError, close_match
from reedmill.base.gathering import apart
from reedmill.base.source import Span
from reedmill.harp import HOLES, Reed
from reedmill.language.drill import Drill, Event, Group, Item, Move, Music, Section
from reedmill.language.mistakes import drill_mistake
from reedmill.language.words import MAX_NOTES

# The lines a child may take over; its place, title, parent and move are always its own.
_OWN = ("span", "title", "parent", "move", "texts", "moved", "broken")
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


def derive_all(drills: list[Drill], library: Iterable[Drill], most: int) -> tuple[Drill, ...]:
    """Return *drills* with every ``from`` carried out, each checked to be complete.

    A name is looked for in *drills* first, then in *library*.  Raises ``PatternError``
    for a title used twice, an unknown parent, drills that derive from each other, or more than
    *most* notes in all; they are counted as drills are made, for each may copy its parent's.
    """
    own: dict[str, Drill] = {}
    for drill in drills:
        with apart():
            if drill.title in own and drill.title:
                raise drill_mistake("one-title-twice", drill.span, title=drill.title)
            own[drill.title] = drill
    # a library is read when it is asked for its first drill: only where a drill derives from one
    parents = library if any(drill.parent for drill in drills) else ()
    known = {drill.title: drill for drill in parents} | own
    done = _carried_out(list(own.values()), known, own, most)
    made = _checked_whole([drill for title, drill in done.items() if title in own])
    return tuple(made[title] for title in own if title and title in made)


def _carried_out(
    drills: list[Drill], known: dict[str, Drill], own: dict[str, Drill], most: int
) -> dict[str, Drill]:
    """Return every drill that can be derived, by title, with its ancestors."""
    done: dict[str, Drill] = {}
    lost: set[str] = set()  # those with a mistake that was gathered
    counts: dict[str, int] = {}  # of parents' notes, which each of many children would ask for
    count = 0
    for drill in drills:
        line = [drill]
        with apart():
            line = _line_of_descent(drill, known, done, lost)
            for each in reversed(line):
                if each.title in done:
                    continue
                done[each.title] = _derived(each, done, counts) if each.title in own else each
                count += _amount(done[each.title]) if each.title in own else 0
                if count > most:
                    raise drill_mistake("too-many-notes-in-a-file", each.span, most=most)
        lost |= {each.title for each in line} - set(done)
        if count > most:
            break
    return done


def _amount(drill: Drill) -> int:
    """Return the notes of *drill*, capped at the limit: above it the drill itself is refused.

    A run of rungs is taken for four reeds, as of draw 3 on a Richter harp.
    """
    rungs = sum(1 if item.how == "one" else 4 for item in drill.rungs)
    return min(drill.count(rungs), MAX_NOTES)


def _line_of_descent(
    drill: Drill, known: dict[str, Drill], done: dict[str, Drill], lost: set[str]
) -> list[Drill]:
    """Return *drill*, its parent, its parent's parent, up to one *done* or without one.

    Nothing where one of them is *lost*, or may be the one whose heading could not be read.
    """
    line, titles = [drill], {drill.title}
    while line[-1].title not in done and (parent := line[-1].parent) is not None:
        title = parent.title
        if title in lost or (title not in known and "" in known):
            lost.add(drill.title)
            return []
        if title not in known:
            others = [name for name in known if name != line[-1].title]
            hint = close_match(title, others)
            raise drill_mistake("unknown-parent", parent.span, title=title, hint=hint)
        if title in titles:
            lost |= titles
            raise drill_mistake("circle", parent.span, title=line[-1].title)
        line.append(known[title])
        titles.add(title)
    return line


def _derived(drill: Drill, done: dict[str, Drill], counts: dict[str, int]) -> Drill:
    if drill.parent is None:
        if drill.move:
            raise drill_mistake("nothing-to-move", drill.move.span)
        return drill
    parent = done[drill.parent.title]
    if drill.move:
        count = counts.get(parent.title) or parent.count(len(parent.rungs))
        counts[parent.title] = count
        if count > MAX_NOTES:  # each of them would be written anew
            raise drill_mistake("too-many-notes", drill.move.span, count=count, most=MAX_NOTES)
        parent = moved(parent, drill.move)
    aside = {name for kind, names in _ASIDE.items() if getattr(drill, kind) for name in names}
    if drill.tempo_bpm:  # one line holds both ends
        aside.add("tempo_goal_bpm")
    taken = {
        name: getattr(parent, name)
        for name in _TAKEN_OVER
        if not getattr(drill, name) and name not in aside
    }
    broken = drill.broken or parent.broken
    texts, last = parent.texts | drill.texts, drill.move or parent.moved
    made = replace(drill, texts=texts, moved=last, broken=broken, **taken)
    # with its tune put aside, the line that says where it lies says nothing
    return made if drill.octave or _has_tune(made) else replace(made, octave=None)


def _has_tune(drill: Drill) -> bool:
    return any(part.tune for part in drill.parts)


def _checked_whole(drills: list[Drill]) -> dict[str, Drill]:
    """Return *drills*, parents first, by title; ``PatternError`` for an incomplete one.

    Where mistakes are gathered, such a drill is marked, and those made from it.
    """
    made: dict[str, Drill] = {}
    for drill in drills:
        above = made.get(drill.parent.title) if drill.parent else None
        broken = drill.broken or (above is not None and above.broken) or not _is_whole(drill)
        made[drill.title] = replace(drill, broken=broken)
    return made


def _is_whole(drill: Drill) -> bool:
    """Return True unless something is missing, which is raised or gathered."""
    whole = True
    if not drill.parts:
        whole = False
        with apart():
            raise _no_music(drill, drill.span, "")
    elif drill.octave and not _has_tune(drill):
        whole = False
        with apart():
            raise drill_mistake("octave-without-tune", drill.octave.span, title=drill.title)
    for part in drill.parts:
        right = False
        with apart():
            _check_part(drill, part)
            right = True
        whole = whole and right
    return whole


def _check_part(drill: Drill, part: Section) -> None:
    kinds = [kind for kind in ("phrase", "play", "tune") if getattr(part, kind)]
    if len(kinds) > 1:
        one, other = kinds[:2]
        raise drill_mistake(
            "two-kinds-of-music", part.span, title=drill.title, one=one, other=other
        )
    if not kinds:
        raise _no_music(drill, part.span, f', section "{part.name}",' if part.name else "")
    if part.phrase and not drill.rungs:
        raise drill_mistake("phrase-without-rungs", part.span, title=drill.title)
    used = dict(_roles(part.phrase + part.play + part.ending + part.tune))
    if "anchor" in used and drill.anchor is None:
        raise drill_mistake("anchor-not-named", used["anchor"], title=drill.title)
    for role, span in _roles(part.play + part.ending + part.tune):
        _check_outside_phrase(drill, role, span)


def _check_outside_phrase(drill: Drill, role: str, span: Span) -> None:
    if role in _RELATIVE:
        raise drill_mistake("rung-outside-phrase", span, word=role)
    if role in _OF_THE_LIST and not drill.rungs:
        raise drill_mistake("rung-without-rungs", span, word=role, title=drill.title)


# --- move ----------------------------------------------------------------------------


def moved(drill: Drill, move: Move) -> Drill:
    """Return *drill* with every reed shifted by the holes of *move*; degrees stay."""
    anchor = drill.anchor
    if anchor and anchor.reed:
        beside = _all_shifted(anchor.beside, move)
        anchor = replace(anchor, reed=_shifted(anchor.reed, move), beside=beside)
    return replace(
        drill,
        anchor=anchor,
        rungs=tuple(
            replace(
                item,
                reed=_shifted(item.reed, move),
                floor=_shifted(item.floor, move) if item.floor else None,
                beside=_all_shifted(item.beside, move),
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
        beside = _all_shifted(item.beside, move)
        return replace(item, reed=_shifted(item.reed, move), beside=beside)
    return item


def _all_shifted(reeds: tuple[Reed, ...], move: Move) -> tuple[Reed, ...]:
    return tuple(_shifted(reed, move) for reed in reeds)


def _shifted(reed: Reed, move: Move) -> Reed:
    hole = reed.hole + move.holes
    if hole not in HOLES:
        holes = abs(move.holes)
        raise drill_mistake("moved-off-the-harp", move.span, reed=reed.tab, holes=holes, hole=hole)
    return replace(reed, hole=hole)


def _no_music(drill: Drill, span: Span, section: str) -> PatternError:
    key = "rungs-without-phrase" if drill.rungs else "nothing-to-play"
    return drill_mistake(key, span, title=drill.title, section=section)


def _roles(music: Music) -> Iterator[tuple[str, Span]]:
    """Yield every role word of *music* with its place."""
    for item in music:
        if isinstance(item, Group):
            for each in (item.items, *item.endings):
                yield from _roles(each)
        elif isinstance(item, Event) and item.role:
            yield item.role, item.span
