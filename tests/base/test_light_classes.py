"""Dataclasses made after ``lighten_dataclasses`` do as Python's own do, for less work."""

from __future__ import annotations

import subprocess
import sys

# What a program sees of frozen classes, with slots and without, ordered, printed and inherited.
PROGRAM = """
from __future__ import annotations
from dataclasses import FrozenInstanceError, dataclass, field, replace
import pickle

@dataclass(frozen=True, slots=True, order=True)
class Hole:
    number: int
    bends: tuple[int, ...] = ()
    note: str = field(default="", repr=False, compare=False)

@dataclass(frozen=True)
class Named:
    name: str
    within: object = None

@dataclass(frozen=True)
class Reed(Named):
    hole: Hole = Hole(1)

class Marked(Reed):
    pass

@dataclass(slots=True)
class Open:
    number: int
    inside: list[object] = field(default_factory=list)

def tried(what, *arguments):
    try:
        return what(*arguments)
    except Exception as error:
        return type(error).__name__, str(error)

hole, reed = Hole(4, (1,), "D"), Marked("draw 4", hole=Hole(4))
ring = Open(1)
ring.inside.append(ring)
print(hole, reed, ring, Named(reed), sep="\\n")
print(Hole.__repr__.__qualname__, hole == Hole(4, (1,)), hash(hole) == hash(Hole(4, (1,))))
print(hole < Hole(5), tried(lambda: hole < 5), replace(hole, number=3))
for one in (hole, reed, Named("x")):
    for name in ("number", "name", "hole", "odd"):
        print(tried(setattr, one, name, 2), tried(delattr, one, name))
print(reed.__dict__, pickle.loads(pickle.dumps(hole)) == hole)
object.__setattr__(hole, "number", 9)
print(hole)
"""
LIGHTER = """
from reedmill.base.light_classes import lighten_dataclasses
lighten_dataclasses()
"""
COUNTING = """
import dataclasses
made = []
create = dataclasses._create_fn
def counting(name, *rest, **more):
    made.append(name)
    return create(name, *rest, **more)
dataclasses._create_fn = counting
@dataclasses.dataclass(frozen=True, slots=True)
class Hole:
    number: int
print(*sorted(made))
"""


def printed(program: str) -> str:
    """What *program* prints, run as a module of its own by a fresh Python."""
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True, timeout=60
    )
    return done.stdout


def test_a_class_prints_compares_and_refuses_as_python_makes_it() -> None:
    usual = printed(PROGRAM)
    assert "FrozenInstanceError" in usual
    assert printed(LIGHTER + PROGRAM.replace("from __future__ import annotations\n", "")) == usual


RUN = "import dataclasses, sys\nfrom reedmill.cli import main\nsys.argv[1:] = ['--version']\n"
TOLD = (
    "try:\n    main()\nexcept SystemExit:\n"
    "    print(getattr(dataclasses, '_repr_fn', main).__module__)\n"
)

if sys.version_info < (3, 13):

    def test_only_what_runs_often_is_compiled_for_each_class() -> None:
        assert printed(COUNTING) == "__delattr__ __eq__ __hash__ __init__ __repr__ __setattr__\n"
        assert printed(LIGHTER + COUNTING) == "__eq__ __hash__ __init__\n"

    def test_a_command_makes_its_classes_so() -> None:
        assert printed(RUN + TOLD).splitlines()[-1] == "reedmill.base.light_classes"

else:

    def test_a_python_that_compiles_a_class_in_one_go_is_left_alone() -> None:
        assert printed(RUN + TOLD).splitlines()[-1] != "reedmill.base.light_classes"
