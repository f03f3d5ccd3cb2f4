"""Words of a command line that no option and no drill takes, and what each was meant to be.

The words a newcomer leaves without quotes (``--harp B flat``), a ``yes`` after an option that
stands alone, an option that lacks its value, and the dashes of a word processor: click would
take each for something else, or say of it what only programmers read.

Nothing but click is imported at the top, so that help is there at once.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, field

import click

_YES, _NO = ("yes", "y", "on", "true"), ("no", "n", "off", "false")
_UNITS = ("bpm", "bar", "bars", "beat", "beats", "chorus", "choruses", "hz", "time", "times")
_DASHES = "-\N{HYPHEN}\N{NON-BREAKING HYPHEN}\N{EN DASH}\N{EM DASH}\N{HORIZONTAL BAR}\N{MINUS SIGN}"
_DASHED = re.compile(rf"([{_DASHES}]{{1,3}})([A-Za-z][A-Za-z-]+)(=.*)?", re.DOTALL)

EXAMPLES = {
    "--audio": "wav,mp3", "--band": "plain", "--bits": "24", "--book": "class.book",
    "--chord": "IV",
    "--case": '"C, A, D"',
    "--chords": '"i7 iv7 V7"',
    "--choruses": "2", "--click": "beats", "--count-in": "1", "--drill": '"Two bars home"',
    "--drone": "root+fifth",
    "--echo": "2", "--embouchure": '"tongue left"',
    "--feel": '"Medium shuffle"', "--form": '"Twelve bars"', "--from": "-2",
    "--harp": "A", "--hole": "3", "--intonation": "just5", "--jobs": "2", "--key": "E",
    "--ladder": '"60 to 90 by 5"', "--lay": "once", "--lesson": "1", "--level": "2",
    "--minutes": "20", "--my-harp": "my-harp.toml",
    "--offsets": '"b3=-12, b7=-31"', "--on": "dask", "--out": "monday", "--over": '"Twelve bars"',
    "--paper": "letter", "--pause": "8", "--position": "3", "--questions": "20",
    "--rungs": '"-4\' -3\'"',
    "--reeds": '"-3 -3\'"', "--reference": "442",
    "--repeat": "4", "--rung": '"-3\'"', "--scheduler": "tcp://10.0.0.5:8786", "--seed": "7",
    "--loose": "2", "--lead-in": "0.5", "--click-level": "loud", "--without": "bass",
    "--plan": '"quiet, full"', "--intro": "five", "--ending": "tag",
    "--show": "tab", "--steps": "20", "--student": "Ada", "--technique": "slide",
    "--temperament": "just",
    "--tempo": "60", "--to": "sheet",
    "--tolerance": "10,25", "--topic": "thirds", "--tuning": "country", "--voice": "harmonica.sf2",
}  # fmt: skip
"""A value for every option that takes one, as it is typed."""

_NO_DRILLS = (
    "words",
    "takes",
    "names",
)  # arguments of which several may come, and which are not drills

# What people call an option elsewhere: the option here, with a value that fits.
_ELSEWHERE = {
    "--pdf": "--to sheet", "--sheet": "--to sheet", "--wav": "--to wav", "--midi": "--to midi",
    "--tab": "--to tab", "--mp3": "--to wav --audio mp3", "--flac": "--to wav --audio flac",
    "--ogg": "--to wav --audio ogg", "--format": "--to sheet", "--type": "--to sheet",
    "--bpm": "--tempo 60", "--speed": "--tempo 60", "--slow": "--tempo 60",
    "--slower": "--tempo 60", "--metronome": "--click", "--backing": '--over "Twelve bars"',
    "--form": '--over "Twelve bars"', "--letter": "--paper letter", "--a4": "--paper a4",
    "--size": "--paper letter", "--output": "--out monday", "--folder": "--out monday",
    "--dir": "--out monday", "--soundfont": "--voice harmonica.sf2",
    "--font": "--voice harmonica.sf2", "--loops": "--repeat 4", "--times": "--repeat 4",
    "--big": "--large", "--fade": "--fade-out",
    "--countin": "--count-in 1",
}  # fmt: skip

# The option that a bare word most likely belongs to, where a command takes none.
_FIRST = {"backing": "--form", "keys": "--key", "notes": "--harp", "roles": "--reeds"}


@dataclass(slots=True)
class StrayWords:
    """Words on a command line that belong to no option, and the option before them."""

    option: click.Option | None = None
    name: str = ""  # the option, as it was written
    value: str | None = None  # which it took before these words; none if it stands alone
    words: list[str] = field(default_factory=list)


def check_words(ctx: click.Context, args: Sequence[str]) -> None:
    """Raise ``InputError`` where the meaning of a wrong word of *args* can be guessed."""
    runs = list(_runs(ctx.command, args))
    for run in runs:
        _check_yes(ctx, run)
    takes = _argument(ctx.command)
    if takes is not None and takes.name == "words":
        return
    if takes is not None and takes.nargs == 1 and sum(len(run.words) for run in runs) <= 1:
        return
    for run in runs:
        _check_unquoted(ctx, run)
    if takes is None or takes.nargs == 1:
        _refuse_spare(ctx, [word for run in runs for word in run.words])


def check_command_first(name: str, args: Sequence[str], commands: Sequence[str]) -> None:
    """Raise ``InputError`` where *name*, which is not a command, is in a command's place."""
    from reedmill.base.errors import InputError

    if name.casefold() == "help":
        raise InputError(
            "Write reedmill --help, or the name of a command before it: reedmill make --help"
        )
    later = [word for word in args[1:] if word in commands]
    if later or is_drill(name):
        command = later[0] if later else "make"
        raise InputError(
            f'the command comes first, before "{name:.40}". Write: reedmill {command} '
            f"{shell_quoted(name)}"
        )


def shell_quoted(text: str) -> str:
    """Return *text* as it is typed, in double quotes where it needs any."""
    from shlex import quote

    if re.fullmatch(r"[\w.,/+-]+", text) and not text.startswith("-"):
        return text
    return quote(text) if re.search(r'["\\$`!]', text) else f'"{text}"'


# --- where each word belongs ---------------------------------------------------------------


def _options(command: click.Command) -> dict[str, click.Option]:
    return {
        name: param
        for param in command.params
        if isinstance(param, click.Option)
        for name in (*param.opts, *param.secondary_opts)
    } | {"--help": _HELP, "-h": _HELP}


_HELP = click.Option(["--help", "-h"], is_flag=True)


def _argument(command: click.Command) -> click.Argument | None:
    """Return the argument that takes the words that are left, where a command has one."""
    return next((each for each in command.params[::-1] if isinstance(each, click.Argument)), None)


def _runs(command: click.Command, args: Sequence[str]) -> Iterator[StrayWords]:
    """Yield the words of *args* that no option takes, read as click reads them."""
    known, run, ahead = _options(command), StrayWords(), list(args)
    while ahead:
        word = ahead.pop(0)
        name, sign, value = word.partition("=")
        option = known.get(name) if word.startswith("-") else None
        if word == "--":
            run.words += ahead
            break
        if option is None:
            _check_dashes(command, word)
            if not re.match(r"--?[A-Za-z]", word):  # click knows best what is like it
                run.words.append(word)
            continue
        yield run
        run = StrayWords(option, name, value if sign else None)
        if option.is_flag:
            if sign:
                run.words.append(value)
        elif not sign:
            run.value = _taken(option, name, ahead, known)
    yield run


def _taken(
    option: click.Option, name: str, ahead: list[str], known: dict[str, click.Option]
) -> str | None:
    """Return the value *option* takes from the words *ahead* of it; ``InputError`` for none."""
    from reedmill.base.errors import InputError

    maybe: Callable[[str], bool] | None = getattr(option, "is_value", None)
    if maybe is not None:
        return ahead.pop(0) if ahead and maybe(ahead[0]) else None
    if not ahead or ahead[0].partition("=")[0] in known:
        example = EXAMPLES.get(name, "...")
        raise InputError(f"{name} needs a value after it. Write for example: {name} {example}")
    return ahead.pop(0)


def _check_dashes(command: click.Command, word: str) -> None:
    """Refuse an option written with other dashes, or called by a name used elsewhere."""
    from reedmill.base.errors import InputError

    found = _DASHED.fullmatch(word)
    if found is None or os.path.isfile(word):  # noqa: PTH113  no error for odd names
        return
    name, known = f"--{found[2].lower()}", _options(command)
    if name in known and found[1] != "--":
        why = (
            "has one hyphen" if found[1] == "-" else "has another dash than the hyphens of options"
        )
        raise InputError(f'"{word:.40}" {why}. Write {name}')
    if found[1] != "--" or name in known:
        return
    instead = _ELSEWHERE.get(name, "")
    if instead.split(" ")[0] in known:
        raise InputError(f"there is no option {name} here. Write for example: {instead}")


# --- yes and no ----------------------------------------------------------------------------


def _check_yes(ctx: click.Context, run: StrayWords) -> None:
    """Refuse yes or no after an option that takes no value: it would be taken for a drill."""
    from reedmill.base.errors import InputError

    if run.option is None or not run.option.is_flag:
        return
    free = (_argument(ctx.command) or run.option).name == "words"  # a search may be for any word
    for word in run.words[:1] if free else run.words:
        said = word.strip().casefold()
        if said in (*_YES, *_NO) and not (_takes_drills(ctx.command) and is_drill(word)):
            raise InputError(
                f'"{word}" is not a value of {run.name}: '
                + (
                    f'the option stands alone, and writing it is enough. Leave out "{word}".'
                    if said in _YES
                    else f'leave out both, the option and "{word}".'
                )
            )


# --- words without their quotes --------------------------------------------------------------


def _check_unquoted(ctx: click.Context, run: StrayWords) -> None:
    """Refuse words that belong together: of a value, a title or a file name."""
    from reedmill.base.errors import InputError

    words = run.words
    if all(is_thing(ctx.command, word) for word in words):
        return
    if run.option is not None and run.value is not None:
        for count in range(len(words), 0, -1):
            rest = _things(ctx.command, words[count:])
            value = "" if rest is None else _joined(run, words[:count])
            if value:
                raise InputError(
                    f"{_listed(words[:count])} after {run.name} {run.value:.40} "
                    f"{'is' if count == 1 else 'are'} left over. "
                    f"Write: {' '.join([run.name, value, *map(shell_quoted, rest or ())])}"
                )
    title = _whole(ctx.command, words)
    if title:
        raise InputError(
            f"{_listed(words)} are {len(words)} words, each taken alone. Put a title or the name "
            f"of a file in quotes: {shell_quoted(title)}"
        )


def _listed(words: Sequence[str]) -> str:
    shown = [f'"{word:.40}"' for word in words[:12]]
    return ", ".join(shown[:-1]) + (" and " if shown[1:] else "") + shown[-1]


def _things(command: click.Command, words: Sequence[str]) -> list[str] | None:
    """Return the drills or files that *words* are, singly or together; ``None`` for others."""
    if all(is_thing(command, word) for word in words):
        return list(words)
    together = " ".join(words)
    return [together] if is_thing(command, together) else None


def _whole(command: click.Command, words: Sequence[str]) -> str:
    """Return the one title or file that several *words* are; empty where they are none or many."""
    if len(words) < 2 or any(is_thing(command, word) for word in words[:-1]):
        return ""
    together = " ".join(words)
    if is_thing(command, together):
        return together
    if not _takes_drills(command) or any(" " in word for word in words):
        return ""
    from reedmill.base.errors import nearest_name
    from reedmill.library import shipped

    return nearest_name(together[:200], [each.drill.title for each in shipped()])


def _takes_drills(command: click.Command) -> bool:
    argument = _argument(command)
    return argument is not None and argument.nargs == -1 and argument.name not in _NO_DRILLS


def is_drill(word: str) -> bool:
    """Tell whether *word* is the name of an existing file, ends as drills do, or is a title."""
    from reedmill.library import SUFFIX, is_title

    there = os.path.isfile(word)  # noqa: PTH113  no error for odd names
    return there or word.lower().endswith(SUFFIX) or is_title(word)


def is_thing(command: click.Command, word: str) -> bool:
    """Tell whether *word* is what the argument of *command* names."""
    if _takes_drills(command):
        return is_drill(word)
    if _argument(command) is None:
        return False
    if command.name == "pack":
        from reedmill.base.text import same_title
        from reedmill.pack.course.shipped_courses import shipped_courses

        known = {
            same_title(name) for each in shipped_courses() for name in (each.title, each.path.stem)
        }
        if same_title(word) in known:
            return True
    if command.name == "record" and (word.lower().endswith(".json") or _is_choice(command, word)):
        return True
    return os.path.exists(word)  # noqa: PTH110  no error for odd names


def _is_choice(command: click.Command, word: str) -> bool:
    """Tell whether *word* is one of those that an argument of *command* takes alone."""
    return any(
        isinstance(each, click.Argument)
        and isinstance(each.type, click.Choice)
        and word.lower() in each.type.choices
        for each in command.params
    )


# --- what a value and the words after it are together -----------------------------------------


def _joined(run: StrayWords, words: Sequence[str]) -> str:
    """Return what to type for the value of *run* and *words*, if they make sense together."""
    value = run.value or ""
    name = run.option.opts[0] if run.option else ""
    if _is_number(value) and len(words) == 1 and words[0].lower().rstrip(".") in _UNITS:
        return value
    if any(" " in word for word in words):
        return ""
    listed = _LISTS.get(name)
    if listed:
        joint, known = listed
        parts = [part for word in (value, *words) for part in re.split(r"[,+]", word) if part]
        parts = [part for part in parts if part.lower() not in ("and", "&")]
        return joint.join(parts) if {part.lower() for part in parts} <= set(known()) else ""
    together, reads = " ".join((value, *words)), _READ.get(name)
    listing = ", ".join((value, *words))
    ways = (together, listing) if name in _SEVERAL else (together,)
    return next((shell_quoted(way) for way in ways if reads and _can(reads, way)), "")


def _is_number(text: str) -> bool:
    return re.fullmatch(r"\d+(\.\d+)?", text) is not None


def _can(reads: Callable[[str], object], text: str) -> bool:
    from reedmill.base.errors import ReedmillError

    with suppress(ReedmillError, ValueError):
        reads(text)
        return True
    return False


def _formats() -> tuple[str, ...]:
    from reedmill.make.backing import BACKING_FORMATS
    from reedmill.make.material import FORMATS

    return (*FORMATS, *BACKING_FORMATS, *_types())


def _types() -> tuple[str, ...]:
    from reedmill.practice.practice import TYPES

    return tuple(TYPES)


def _tones() -> tuple[str, ...]:
    from reedmill.practice.practice import DRONE_TONES

    return tuple(DRONE_TONES)


def _read_harps(text: str) -> None:
    from reedmill.harp import Harp

    Harp.parse_list(text)


def _read_keys(text: str) -> None:
    from reedmill.theory.song_keys import SongKey

    SongKey.parse_list(text)


def _read_positions(text: str) -> None:
    from reedmill.theory.positions import Position

    Position.parse_list(text)


def _read_plans(text: str) -> None:
    from reedmill.language.mouth_plans import parse_plans

    parse_plans(text)


def _read_ladder(text: str) -> None:
    from reedmill.practice.practice import parse_ladder

    parse_ladder(text)


def _read_form(text: str) -> None:
    from reedmill.band.shelf import find_form

    find_form(text)


def _read_feel(text: str) -> None:
    from reedmill.band.shelf import find_feel

    find_feel(text)


def _read_reeds(text: str) -> None:
    from reedmill.cli.asked import named_reeds

    named_reeds((text,))


def _read_technique(text: str) -> None:
    from reedmill.library import Wanted, search

    search(Wanted(technique=text))


def _read_tuning(text: str) -> None:
    from reedmill.harp import layout_named

    layout_named(text)


def _read_folder(text: str) -> None:
    """Accept any words: all can be a folder's name."""


_LISTS: dict[str, tuple[str, Callable[[], tuple[str, ...]]]] = {
    "--to": (",", _formats), "--audio": (",", _types), "--drone": ("+", _tones),
}  # fmt: skip
_SEVERAL = ("--harp", "--case", "--key", "--position", "--embouchure")  # take a list with commas
_READ: dict[str, Callable[[str], None]] = {
    "--harp": _read_harps, "--case": _read_harps, "--key": _read_keys,
    "--position": _read_positions, "--ladder": _read_ladder,
    "--over": _read_form, "--form": _read_form, "--feel": _read_feel, "--reeds": _read_reeds,
    "--rung": _read_reeds, "--from": _read_reeds, "--technique": _read_technique,
    "--tuning": _read_tuning, "--out": _read_folder, "--student": _read_folder,
    "--book": _read_folder, "--embouchure": _read_plans,
}  # fmt: skip


# --- words too many ---------------------------------------------------------------------------


def _named(argument: click.Argument) -> str:
    """Return the name of *argument* in help, without the brackets of an optional one."""
    name = argument.metavar or (argument.name or "").upper()
    return name[1:-1] if name.startswith("[") else name


def _refuse_spare(ctx: click.Context, words: Sequence[str]) -> None:
    """Refuse more words than a command takes, and say what to write instead."""
    from reedmill.base.errors import InputError

    command, argument = ctx.command, _argument(ctx.command)
    if argument is not None and len(words) > 1:
        raise InputError(
            f"{ctx.command_path} takes one {_named(argument)}, and "
            f"{_listed(words)} are {len(words)} words. A name of several words goes in quotes: "
            f"{shell_quoted(' '.join(words))}"
        )
    first = _FIRST.get(command.name or "", "")
    if argument is None and words:
        example = _joined(StrayWords(_options(command).get(first), first, words[0]), words[1:])
        instead = (
            f"Write: {ctx.command_path} {first} {example}"
            if first and example
            else f"{ctx.command_path} --help lists them."
        )
        stands = "stands" if len(words) == 1 else "stand"
        raise InputError(f"{_listed(words)} {stands} after no option. {instead}")
    return
