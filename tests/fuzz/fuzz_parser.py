"""Throw text at the pattern language until it breaks.

    python tests/fuzz/fuzz_parser.py [INPUTS] [--seed SEED] [--pieces PIECES]
                                     [--first PIECE] [--processes N] [--only NUMBER]

Every input is read and laid out anew, each of its drills expanded, cut into bars and asked
for its ways.  An input fails when

- it raises anything but ``ReedmillError``;
- what is said of it has no place in the text, or holds a sign that a terminal obeys;
- the formatter's text cannot be read, means something else, or is laid out anew another way;
- it takes more than two seconds of processor time, or makes the process more than 200 MB
  larger.

The inputs are run in PIECES; piece P of ``--seed S`` has the inputs 0, 1, 2, ... of the seed
S + P, and its figures are printed as it ends, so a run that was stopped goes on with
``--first``.  Input NUMBER of a seed is always the same text, whatever else is run; ``--only``
prints it and runs it alone.

Not a test that pytest collects: it takes minutes.  ``tests/language/test_fuzz.py`` runs a sample.
"""

from __future__ import annotations

import argparse
import random
import re
import resource
import signal
import sys
import time
import tracemalloc
import unicodedata
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field, fields, is_dataclass
from functools import cache
from pathlib import Path
from types import FrameType

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parents[1] / "generator"), str(HERE.parent)]

from broken_drills import BROKEN  # noqa: E402
from reedmill.base.errors import PatternError, ReedmillError  # noqa: E402
from reedmill.expand import expand, ways  # noqa: E402
from reedmill.harp import HARP_KEYS, LAYOUTS, Harp  # noqa: E402
from reedmill.language import Drill, parse  # noqa: E402
from reedmill.language.formatter import tidy  # noqa: E402
from reedmill.language.parser import drills_as_written  # noqa: E402
from reedmill.language.words import DIRECTIONS, LINES, MUSIC_LINES, ROLES  # noqa: E402
from reedmill.library import shipped  # noqa: E402
from reedmill.score.notation import bars  # noqa: E402
from reedmill.theory.positions import Position  # noqa: E402

PATTERNS = HERE.parents[1] / "patterns"
SHELVED = [str(path.relative_to(PATTERNS)) for path in PATTERNS.rglob("*.drill")]
MOST_BYTES = 10_000
MOST_S = 2.0
MOST_MB = 200
TRACED = 500  # one input in so many is also measured by tracemalloc
HANGS_S = 5  # of processor time, after which an input is given up


# --- inputs ---------------------------------------------------------------------------

SIGNS = (
    "all of", "bends of", "down to", "r", "~", "|", "(", ")", "(", ")", "x2", "x3", "x100", ":1/2",
    ":2", ":1/3", ":1.", ":1/8..", ":64", "!", "triplet(", "1st (", "2nd (", "3rd", "-3", "-3'",
    "-2''", "4", "6^", "-11", "10''", "b3", "#4", "5-", "1+", "b7--", "14", '"Home"', '"', "#",
    "\n", "\n  ", ",", "4/4", "12/8", "60", "0", "999999999", "\\", '\\"', "root", "lips",
    "tongue left", "anchors", "or", "shuffle", "overbends", "up 1", "down 2", "to", "\u201c",
    "\u2019", "\u2212", "\0", "\ufeff", "\u00e9", "\u0663", "\u202e", "\U0001d7d9", "\r", "\t",
    "\f", "\u2028", "&", "-2&3", "-1&4", "1&5-", "-3q", "3q", "slap", "pull", "shake", "vibrato4",
    "scoop", "fall", "mute", "~:1/2", "-2-3", "vibrato99",
)  # fmt: skip
# Music that works, in pieces that can stand side by side.
REEDS = (
    "-2", "-3'", "4:1/2", "-4!", "r", "(-2 -3)x2", "-3~-3'", "triplet(-2 r -4:1/2)", "6^", "|",
    "(-2) 1st (-3) 2nd (-1)", "anchor", "first", "-1:3/8", "10''", "(-2 4)x100", "-2~-2:3",
    "-2&3", "-1&4!", "2&3&4:1/2", "slap -2", "shake -4&5:2", "scoop -3q", "vibrato -4:2", "pull 5",
    "-3~:1/2 -3'':2", "slap (-2 -3)x2", "mute fall -4", "shake3 2&3", "-2&3~-2'&3'", "-5q",
    "-4~-1&2&3&4", "1&4:2~1&2&3&4~4",
)  # fmt: skip
ROLE_WORDS = (
    "rung",
    "anchor!",
    "previous:1/2~rung:1/2",
    "next",
    "last:1/3",
    "-3",
    "r:1/6",
    "vibrato rung:2",
    "slap anchor",
    "-1&4",
    "scoop rung",
    "previous~:1/2 rung",
)
DEGREES = (
    "1",
    "b3:1/2",
    "4!",
    "5-",
    "b7",
    "1+",
    "b3~3",
    "r",
    "triplet(1 2 3)",
    "#4",
    "(1 5)x2",
    "1&5",
    "1&1+",
    "5~1&5",
    "3q",
    "1&3&5:1/2",
    "shake 3&5",
    "vibrato 5:2",
    "slap (1 b7)x2",
)
MUSIC = ("play", "tune")
VALUES = {
    "play": REEDS, "ending": REEDS, "phrase": ROLE_WORDS, "tune": DEGREES, "pickup": ("1", "1/2"),
    "length": ("1/2", "1/3", "2", "3/8"), "meter": ("3/4", "6/8", "12/8", "1/2"),
    "anchor": ("root", "-2", "6", "-1&4"),
    "rungs": ("-3", "all of -3", "bends of -2", "8'", "-6", "-2&3", "1&4", "2&3&4"),
    "move": ("up 1", "down 1", "up 4"), "octave": ("low", "middle", "high"),
    "over": ("I", "I, IV", "bVI7", "turnaround", "ending, i", "#iv"),
}  # fmt: skip


@cache
def corpus() -> tuple[str, ...]:
    """The shipped patterns, drill by drill, the broken ones, and a drill of each line."""
    shipped_texts = [path.read_text("utf-8") for path in sorted(PATTERNS.rglob("*.drill"))]
    parts = [part for text in shipped_texts for part in re.split(r'(?m)^(?=drill ")', text)]
    drills = [part for part in parts if part.startswith("drill")]
    lines = [f'drill "L"\n  {word.example}\n  play -2\n' for word in LINES.values()]
    return (*shipped_texts, *drills * 4, *(text for _, text, _ in BROKEN), *lines)


def any_character(chance: random.Random) -> str:
    """A character of any plane, plain ones more often; never a surrogate, which no file has."""
    top = chance.choice([0x7F, 0x7F, 0x2FF, 0x2FFF, 0x10FFFF])
    code = chance.randint(0, top)
    return "?" if 0xD800 <= code <= 0xDFFF else chr(code)


def unicode_text(chance: random.Random) -> str:
    """Characters of any kind, some of it inside a drill."""
    text = "".join(any_character(chance) for _ in range(chance.randint(0, 300)))
    return chance.choice(["", 'drill "x"\n', 'drill "x"\n play ', 'drill "']) + text


def word(chance: random.Random) -> str:
    return chance.choice([*LINES, *ROLES, *DIRECTIONS, *SIGNS, *SIGNS])


def token_soup(chance: random.Random) -> str:
    """Words of the language in any order, or in lines that begin as lines do."""
    if chance.random() < 0.4:
        return " ".join(word(chance) for _ in range(chance.randint(1, 80)))
    lines = [chance.choice(['drill "x"', 'drill "x"', word(chance)])]
    for _ in range(chance.randint(1, 12)):
        known = chance.choice(list(LINES.values()))
        likely = known.example if chance.random() < 0.5 else known.name
        lines.append(" ".join([likely, *(word(chance) for _ in range(chance.randint(0, 6)))]))
    return "\n".join(lines)


def likely(chance: random.Random) -> str:
    """A drill whose lines could all be right, and often go together."""
    lines = chance.choice([["anchor -1"], ["anchor -1", "rungs -4 -3'", "phrase anchor rung"]])
    taken = {line.split()[0] for line in lines} | {"drill", "section"}
    if chance.random() < 0.8:
        taken |= {"from", "move"}
    free = [name for name in LINES if name not in taken]
    chosen = chance.sample(free, chance.randint(1, 6))
    if len(lines) == 1 and chance.random() < 0.8:
        chosen = [name for name in chosen if name not in MUSIC_LINES] + [chance.choice(MUSIC)]
    lines += [likely_line(name, chance) for name in chosen]
    for _ in range(chance.choice([0, 0, 1, 2])):
        lines += ['section "Part"', likely_line(chance.choice(MUSIC), chance)]
    return "\n  ".join(['drill "Likely"', *lines])


def likely_line(name: str, chance: random.Random) -> str:
    if name not in VALUES:
        return LINES[name].example
    count = chance.randint(1, 8) if name in MUSIC_LINES else 1
    return " ".join([name, *chance.choices(VALUES[name], k=count)])


def pieces_of(text: str, chance: random.Random) -> list[str]:
    """*text* in characters, words or lines, so that joined they are the text again."""
    pattern = chance.choice([r"(?s).", r"(?s)[\w/:.'^+-]+|\s+|.", r"(?s)[^\n]*\n?"])
    return re.findall(pattern, text)


def mutated(chance: random.Random) -> str:
    """A pattern that works, or one that does not, with some of it gone, doubled or moved."""
    text = chance.choice(corpus())
    for _ in range(chance.choice([1, 1, 1, 2, 3, 6])):
        pieces = pieces_of(text, chance) or [""]
        change(pieces, chance)
        text = "".join(pieces)
    return text


def change(pieces: list[str], chance: random.Random) -> None:
    """Delete, double, swap, insert, stretch or splice something, in place."""
    at, other = (chance.randrange(len(pieces)) for _ in range(2))
    match chance.choice(["delete", "double", "swap", "insert", "stretch", "splice"]):
        case "delete":
            del pieces[at : at + chance.choice([1, 1, 3, 20])]
        case "double":
            pieces.insert(other, pieces[at])
        case "swap":
            pieces[at], pieces[other] = pieces[other], pieces[at]
        case "insert":
            new = word(chance)
            pieces.insert(at, chance.choice([new, f" {new} ", any_character(chance)]))
        case "stretch":
            pieces[at] *= chance.choice([2, 5, 100])
        case "splice":
            pieces[at : at + 3] = pieces_of(chance.choice(corpus()), chance)[:50]


def blown_up(chance: random.Random) -> str:
    """A little, as often as 10 kB hold it: what costs too much for its size shows here."""
    snippet = " ".join(word(chance) for _ in range(chance.randint(1, 5)))
    snippet += chance.choice(["", " "])
    heads = ["", 'drill "x"\n', 'drill "x"\n rungs -3 -4\n anchor -2\n', 'drill "x"\n ']
    lines = ["", "play ", "tune ", "phrase ", "rungs ", "order ", "embouchure lips or "]
    head, line = chance.choice(heads), chance.choice(lines)
    tail = chance.choice(["", "\n", ")" * 50, "\n play -2\n"])
    return head + line + snippet * (9_000 // len(snippet.encode())) + tail


def crowd(chance: random.Random) -> str:
    """Many drills, each from the one before it, or all alike with much to play."""
    big = chance.choice(["-2", "((-2)x100)x20", "(-2 -3)x90", "-2~-2'"])
    first = f'drill "0"\nplay {big}\n'
    lines = [likely_line(chance.choice(list(VALUES)), chance) for _ in range(chance.randint(0, 2))]
    own = "\n".join(chance.choice([[f"play {big}"], ['from "{before}"', *lines]]))
    return first + "".join(
        f'drill "{n}"\n{own.replace("{before}", str(n - 1))}\n' for n in range(1, 400)
    )


KINDS: dict[str, Callable[[random.Random], str]] = {
    "unicode": unicode_text, "soup": token_soup, "likely": likely, "mutated": mutated,
    "blown up": blown_up, "crowd": crowd,
}  # fmt: skip
WEIGHTS = (15, 20, 20, 44, 0.8, 0.2)  # the last two cost a hundred times the others


def make_input(seed: int, number: int) -> tuple[str, str]:
    """The kind and the text of input *number*, at most 10 kB of it."""
    chance = random.Random(f"{seed}:{number}")
    [kind] = chance.choices(list(KINDS), WEIGHTS)
    return kind, KINDS[kind](chance).encode()[:MOST_BYTES].decode(errors="ignore")


# --- one input ------------------------------------------------------------------------


@dataclass
class Tally:
    """What became of a run of inputs."""

    counts: Counter[str] = field(default_factory=Counter)
    failures: list[str] = field(default_factory=list)
    slowest: tuple[float, int, str] = (0.0, -1, "")  # seconds, number, kind
    traced_mb: float = 0.0  # the most of those measured by tracemalloc
    grown_mb: float = 0.0

    def add(self, other: Tally) -> None:
        """Take in what another process counted."""
        self.counts += other.counts
        self.failures += other.failures
        self.slowest = max(self.slowest, other.slowest)
        self.traced_mb = max(self.traced_mb, other.traced_mb)
        self.grown_mb = max(self.grown_mb, other.grown_mb)


class Hang(BaseException):
    """An input that would not end; no ``except Exception`` of the code under test hides it."""


def give_up(_signal: int, _frame: FrameType | None) -> None:
    raise Hang


@cache
def library() -> tuple[Drill, ...]:
    return tuple(shelved.drill for shelved in shipped())


LAYOUT_SHARE = 0.25  # of the texts are tidied twice: that takes as long as all else


class FoundError(AssertionError):
    """Something that is not as it should be, although nothing was raised."""


def played(text: str, chance: random.Random) -> Iterator[str]:
    """Read *text* and play its drills; says what became of each step."""
    drills: tuple[Drill, ...] = ()
    with refused_on_purpose(text) as refusals:
        if chance.random() < LAYOUT_SHARE:
            check_layout(text)
        drills = parse(text, NAME, library())
    yield "refused" if refusals else "read"
    for drill in drills:
        harp = Harp(chance.choice(["C", *HARP_KEYS]), "", chance.choice(list(LAYOUTS.values())))
        position = Position(chance.choice([2, chance.randint(1, 12)]))
        with refused_on_purpose(text) as refusals:
            bars(expand(drill, harp, position))
            ways(drill, harp, position)
        yield "drills refused" if refusals else "drills played"


@contextmanager
def refused_on_purpose(text: str) -> Iterator[list[ReedmillError]]:
    """Collects a ``ReedmillError``, whose message must point into *text*."""
    refusals: list[ReedmillError] = []
    try:
        yield refusals
    except ReedmillError as error:
        check_message(error, text)
        refusals.append(error)


def check_message(error: ReedmillError, text: str) -> None:
    """What is said of *text* begins with a place in it, and a terminal obeys none of it."""
    message = str(error)
    obeyed = [sign for sign in message.replace("\n", "") if unicodedata.category(sign) in OBEYED]
    if obeyed:
        raise FoundError(f"leaks {obeyed!a} in {message!a}")
    if not isinstance(error, PatternError):
        raise FoundError(f"is refused without a place: {message}")
    span, lines = error.span, [*text.split("\n"), ""]
    inside = span.line <= len(lines) and span.column <= len(lines[span.line - 1]) + 1
    elsewhere = span.file in SHELVED  # of a drill that it is derived from
    if not message.startswith(f"{span.place}: ") or not (inside or elsewhere):
        raise FoundError(f"is refused at a place that is not there: {message}")


NAME = "fuzz.drill"
OBEYED = ("Cc", "Cf", "Cs", "Zl", "Zp")  # categories of Unicode


def check_layout(text: str) -> None:
    """Laid out anew, *text* means what it meant, and is laid out for good."""
    before = meaning(drills_as_written(text, NAME))
    once = tidy(text, NAME)
    if once == text:
        return
    try:
        after, twice = meaning(drills_as_written(once, NAME)), tidy(once, NAME)
    except ReedmillError as error:
        told = f"is laid out so that it cannot be read: {error}\n{once[:400]!r}"
        raise FoundError(told) from None
    if after != before:
        raise FoundError(f"means something else when laid out: {once[:400]!r}")
    if twice != once:
        raise FoundError(f"is laid out twice: {once[:400]!r}\n{twice[:400]!r}")


def meaning(part: object) -> object:
    """A drill or a part of it without the places it was written at."""
    if isinstance(part, tuple | list):
        return [meaning(each) for each in part]
    if is_dataclass(part):
        names = [each.name for each in fields(part) if each.name not in ("span", "texts")]
        return [type(part).__name__, *(meaning(getattr(part, name)) for name in names)]
    return part


def peak_mb() -> float:
    """The most memory the process has had."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def run_one(text: str, chance: random.Random, tally: Tally) -> str:
    """Run an input; returns what is wrong with it, or nothing."""
    signal.setitimer(signal.ITIMER_PROF, HANGS_S)
    try:
        tally.counts.update(played(text, chance))
    except Hang:
        return f"does not end within {HANGS_S} s"
    except FoundError as error:
        return str(error)
    except Exception as error:  # whatever it is, it is the find
        return f"raises {type(error).__name__}: {error}"
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
    return ""


def measure(seed: int, number: int, tally: Tally) -> None:
    """Run input *number*, with its time and memory."""
    kind, text = make_input(seed, number)
    traced = number % TRACED == 0
    before_mb, began_s = peak_mb(), time.process_time()
    if traced:
        tracemalloc.start()
    wrong = run_one(text, random.Random(number), tally)
    took_s, grown_mb = time.process_time() - began_s, peak_mb() - before_mb
    if traced:  # slower and larger for being watched, so judged by the peak alone
        grown_mb = tracemalloc.get_traced_memory()[1] / 1e6
        tracemalloc.stop()
        tally.traced_mb = max(tally.traced_mb, grown_mb)
    else:
        tally.slowest = max(tally.slowest, (took_s, number, kind))
        tally.grown_mb = max(tally.grown_mb, grown_mb)
        wrong = wrong or (f"takes {took_s:.2f} s" if took_s > MOST_S else "")
    wrong = wrong or (f"takes {grown_mb:.0f} MB more" if grown_mb > MOST_MB else "")
    tally.counts[kind] += 1
    if wrong:
        tally.failures.append(f"input {number} of seed {seed} ({kind}) {wrong}\n  {text[:200]!r}")


def run_share(seed: int, share: range) -> Tally:
    """All inputs of one process."""
    signal.signal(signal.SIGPROF, give_up)
    run_one('drill "warm"\n play -2\n', random.Random(0), tally := Tally())  # loads the grammar
    tally.counts.clear()
    for number in share:
        measure(seed, number, tally)
    return tally


# --- the run --------------------------------------------------------------------------


def main() -> int:
    """Run the inputs, print the figures; 1 when anything failed."""
    options = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    options.add_argument("inputs", nargs="?", type=int, default=200_000)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--pieces", type=int, default=1)
    options.add_argument("--first", type=int, default=0, help="the piece to go on with, from 0")
    options.add_argument("--processes", type=int, default=2)
    options.add_argument("--only", type=int, help="print and run this input alone")
    chosen = options.parse_args()
    if chosen.only is not None:
        print(make_input(chosen.seed, chosen.only)[1], end="\n---\n")
        return report(run_share(chosen.seed, range(chosen.only, chosen.only + 1)), 0.0)
    began_s = time.perf_counter()
    total = Tally()
    with ProcessPoolExecutor(chosen.processes) as pool:
        for piece in range(chosen.first, chosen.pieces):
            seed, before_s = chosen.seed + piece, time.perf_counter()
            found = run_piece(pool, seed, chosen.inputs // chosen.pieces, chosen.processes)
            total.add(found)
            print(f"piece {piece} of {chosen.pieces}, seed {seed}: "
                  f"{len(found.failures)} failures, {time.perf_counter() - before_s:.0f} s",
                  *found.failures, sep="\n", flush=True)  # fmt: skip
    return report(total, time.perf_counter() - began_s)


def run_piece(pool: ProcessPoolExecutor, seed: int, count: int, processes: int) -> Tally:
    """The inputs 0 to *count* of *seed*, shared out among *processes*."""
    shares = [range(start, count, processes) for start in range(processes)]
    found = Tally()
    for tally in pool.map(run_share, [seed] * processes, shares):
        found.add(tally)
    return found


def report(total: Tally, took_s: float) -> int:
    for failure in total.failures[:20]:
        print(f"FAILED: {failure}")
    seconds, number, kind = total.slowest
    print(f"inputs: {sum(total.counts[each] for each in KINDS):,} in {took_s:.0f} s; "
          + ", ".join(f"{total.counts[each]:,} {each}" for each in KINDS))  # fmt: skip
    results = ("read", "refused", "drills played", "drills refused")
    print("; ".join(f"{each}: {total.counts[each]:,}" for each in results))
    print(f"slowest: input {number} ({kind}), {seconds:.3f} s of processor time")
    print(f"memory: at most {total.traced_mb:.1f} MB by tracemalloc for one input in {TRACED}, "
          f"and no input made the process more than {total.grown_mb:.1f} MB larger")  # fmt: skip
    print(f"failures: {len(total.failures)}")
    return 1 if total.failures else 0


if __name__ == "__main__":
    sys.exit(main())
