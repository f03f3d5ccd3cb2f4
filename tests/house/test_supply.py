"""Where everything comes from: locks with digests, what DEPENDENCIES.md says, and the set-up.

What takes a minute or the network (building, installing, the whole bill of materials) is in
``scripts/package``, which ``.ci/run`` runs.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import tomllib
from importlib import metadata
from itertools import chain
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from locks import LOCKS, Pin, pins_of, read_lock
from sbom import gaps, with_digests, without_licence

ROOT = Path(__file__).parents[2]
PYPROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
PROJECT = PYPROJECT["project"]
NAMES = ("soundfont", "test", "build", "build-test", "tools")
PINS = {name: read_lock(name) for name in NAMES}

# ---- locks ----------------------------------------------------------------------------


def names_in(requirements: list[str]) -> set[str]:
    return {canonicalize_name(Requirement(each).name) for each in requirements}


def pins_for(name: str, lock: str, python: str) -> list[Pin]:
    """The pins of the package *name* that Python *python* takes on an ordinary PC."""
    here = {
        "python_version": python, "python_full_version": f"{python}.0", "os_name": "posix",
        "sys_platform": "linux", "platform_machine": "x86_64", "extra": "",
    }  # fmt: skip
    return [
        pin
        for pin in PINS[lock]
        if pin.name == name
        and (pin.requirement.marker is None or pin.requirement.marker.evaluate(here))
    ]


@pytest.mark.parametrize("name", NAMES)
def test_every_package_of_a_lock_is_one_version_with_the_digests_of_its_files(name: str) -> None:
    assert len(PINS[name]) > 5
    for pin in PINS[name]:
        assert pin.digests, pin.name
        # FIPS 180-4: a SHA-256 digest has 256 bits, 64 hexadecimal digits.
        assert all(re.fullmatch("[0-9a-f]{64}", digest) for digest in pin.digests), pin.name


@pytest.mark.parametrize("name", NAMES)
def test_a_lock_names_no_place_that_packages_come_from(name: str) -> None:
    text = (LOCKS / f"{name}.txt").read_text("utf-8")
    assert not re.search(r"https?:|file:|^\s*-|--(index|extra-index|find-links|trusted)",
                         text.replace("--hash=", ""), re.MULTILINE)  # fmt: skip


def test_there_is_no_lock_that_nobody_knows() -> None:
    assert {path.name for path in LOCKS.iterdir()} == {f"{name}.txt" for name in NAMES}


@pytest.mark.parametrize("python", ["3.11", "3.12", "3.13"])
def test_what_the_package_asks_for_is_locked_for_every_python_in_a_version_it_accepts(
    python: str,
) -> None:
    groups = PROJECT["optional-dependencies"]
    asked = {
        "soundfont": PROJECT["dependencies"] + groups["soundfont"] + groups["hear"],
        "test": [*PROJECT["dependencies"], *chain(*groups.values())],
        "build": PYPROJECT["build-system"]["requires"] + PYPROJECT["dependency-groups"]["build"],
        "tools": PYPROJECT["dependency-groups"]["tools"],
    }
    for lock, texts in asked.items():
        for wanted in map(Requirement, texts):
            [pin] = pins_for(canonicalize_name(wanted.name), lock, python)
            assert wanted.specifier.contains(pin.version), (lock, str(wanted), pin.version)


def test_locks_agree_where_they_share_a_package() -> None:
    """All tests then speak for what players have, and one environment can hold two locks."""
    for name in ("soundfont", "build", "build-test"):
        for pin in PINS[name]:
            for other in PINS["test"]:
                if pin.name == other.name and pin.requirement.marker == other.requirement.marker:
                    assert (pin.version, pin.digests) == (other.version, other.digests)
    assert {pin.name for pin in PINS["soundfont"]} <= {pin.name for pin in PINS["test"]}
    assert set(map(str, PINS["build"])) <= set(map(str, PINS["build-test"]))


def test_the_player_needs_no_tools_of_the_tests() -> None:
    assert {"pytest", "mypy", "ruff", "playwright", "hypothesis"}.isdisjoint(
        pin.name for pin in PINS["soundfont"] + PINS["build"]
    )


def test_the_program_that_builds_the_wheel_is_one_version_and_the_locked_one() -> None:
    [wanted] = map(Requirement, PYPROJECT["build-system"]["requires"])
    [pin] = [pin for pin in PINS["build"] if pin.name == wanted.name]
    assert str(wanted.specifier) == f"=={pin.version}"


def test_every_package_that_comes_as_source_for_a_player_finds_its_builder_locked() -> None:
    """Abjad 3.19 has one file on the package index, a source archive built by setuptools."""
    [abjad] = pins_for("abjad", "soundfont", "3.11")
    assert (abjad.version, len(abjad.digests)) == ("3.19", 1)
    assert pins_for("setuptools", "build", "3.11")


def test_a_lock_line_without_one_version_is_refused() -> None:
    with pytest.raises(ValueError, match="must name one version"):
        list(pins_of("click>=8"))


# ---- DEPENDENCIES.md ------------------------------------------------------------------

PAGE = (ROOT / "DEPENDENCIES.md").read_text("utf-8")
ROWS = [
    [cell.strip() for cell in line.strip("|").split("|")]
    for line in PAGE.splitlines()
    if line.startswith("|") and not line.startswith(("| package", "|---"))
]
DIRECT = [row for row in ROWS if len(row) == 5]
BROUGHT = [row for row in ROWS if len(row) == 3]
# Names that packages give their licence, and the names of https://spdx.org/licenses/ for them.
SPDX = {
    "BSD 3-Clause License": "BSD-3-Clause",
    "MIT License": "MIT",
    "GNU General Public License v3 or later (GPLv3+)": "GPL-3.0-or-later",
}


def test_every_direct_dependency_has_one_row_and_no_other_package_has() -> None:
    groups = [*PROJECT["optional-dependencies"].values(), *PYPROJECT["dependency-groups"].values()]
    texts = [*PROJECT["dependencies"], *PYPROJECT["build-system"]["requires"], *chain(*groups)]
    assert sorted(canonicalize_name(row[0]) for row in DIRECT) == sorted(names_in(texts))


def test_every_other_package_of_the_page_is_in_a_lock_and_is_brought_by_others() -> None:
    locked = {pin.name for pin in PINS["test"]}
    for row in BROUGHT:
        assert names_in(row[0].split(", ")) <= locked
    direct = {canonicalize_name(row[0]) for row in DIRECT}
    assert direct.isdisjoint(canonicalize_name(row[0]) for row in BROUGHT)


def test_every_cell_of_the_page_says_something() -> None:
    assert all(all(row) for row in ROWS)


def test_the_page_repeats_no_version_of_the_locks() -> None:
    for pin in (pin for pins in PINS.values() for pin in pins):
        said = re.search(rf"\b{re.escape(pin.name)}\b[ =]+v?{re.escape(pin.version)}\b", PAGE)
        assert not said, said


def licences_stated(name: str) -> set[str]:
    """What an installed package says its licence is, as SPDX names it where that is known."""
    about = metadata.metadata(name)
    if expression := (about.get_all("License-Expression") or [""])[0]:
        return {expression}
    words = {(about.get_all("License") or [""])[0].partition("\n")[0]}
    words |= {
        each.rpartition(" :: ")[2]
        for each in about.get_all("Classifier") or []
        if each.startswith("License ::")
    }
    return {SPDX.get(each, each) for each in words if each}


def installed_rows() -> list[list[str]]:
    found = {canonicalize_name(each.metadata["Name"]) for each in metadata.distributions()}
    return [row for row in DIRECT if canonicalize_name(row[0]) in found]


@pytest.mark.parametrize("row", installed_rows(), ids=lambda row: row[0])
def test_the_licence_on_the_page_is_the_one_the_installed_package_states(row: list[str]) -> None:
    stated = licences_stated(row[0])
    if stated:
        assert row[2].removesuffix(" (from memory)") in stated
    else:
        assert row[2].startswith("none stated")


def test_the_licence_of_everything_that_runs_and_tests_was_compared() -> None:
    compared = {canonicalize_name(row[0]) for row in installed_rows()}
    texts = PROJECT["dependencies"] + PROJECT["optional-dependencies"]["test"]
    here = [each for each in texts if (mark := Requirement(each).marker) is None or mark.evaluate()]
    assert names_in(here) <= compared


# ---- the bill of materials ------------------------------------------------------------

PLY, ROMAN = "a" * 64, "b" * 64
SMALL_LOCK = tuple(pins_of(f"ply==3.11 --hash=sha256:{PLY}\nroman==5.2 --hash=sha256:{ROMAN}"))
SMALL_BILL = {
    "components": [
        {"name": "ply", "version": "3.11"},
        {"name": "Roman", "version": "5.2", "licenses": [{"license": {"id": "ZPL-2.1"}}]},
    ]
}


def test_a_bill_of_materials_with_every_package_and_digest_has_no_gaps() -> None:
    assert gaps(with_digests(SMALL_BILL, {"ply": PLY, "roman": ROMAN}), SMALL_LOCK) == []


def test_a_bill_of_materials_tells_what_it_lacks() -> None:
    bill = with_digests(SMALL_BILL, {"ply": ROMAN})
    assert gaps(bill, SMALL_LOCK) == [
        "ply has no digest that is in the lock",
        "roman has no digest that is in the lock",
    ]
    bill["components"][0] = {"name": "click", "version": "8"}
    assert gaps(bill, SMALL_LOCK)[:2] == ["click is not in a lock", "ply is missing"]
    bill["components"][1] = {"name": "roman", "version": "5.1"}
    assert "roman is 5.1, and 5.2 in the lock" in gaps(bill, SMALL_LOCK)


def test_a_bill_of_materials_tells_which_packages_state_no_licence() -> None:
    assert without_licence(SMALL_BILL) == ["ply"]


# ---- the set-up -----------------------------------------------------------------------

# A Python that can make environments and says what it was asked to install.
PRETENDED = """#!/bin/sh
case "$1 $2" in
"-m venv") mkdir -p "$3/bin" && cp "$0" "$3/bin/python" ;;
"-m pip")
    printf '%s\\n' "$*" >>"$REEDMILL_TEST_ASKED"
    cat "$REEDMILL_TEST_ANSWER" 2>/dev/null && exit 1
    exit 0
    ;;
-c*) printf '%s\\n' "$0" ;;
esac
"""


class Checkout:
    """A folder with what scripts/setup.sh needs, and a pretended Python that notes its orders."""

    def __init__(self, place: Path) -> None:
        self.root = place / "checkout"
        self.asked = place / "asked"
        self.answer = place / "answer"
        self.root.mkdir()
        shutil.copytree(LOCKS, self.root / "locks")
        shutil.copy(ROOT / "pyproject.toml", self.root)
        self.python = place / "python3"
        self.python.write_text(PRETENDED, "utf-8")
        self.python.chmod(0o755)

    def set_up(self, *extras: str) -> subprocess.CompletedProcess[str]:
        """What ``set_up EXTRA...`` of the script does to this checkout."""
        script = f'root=$1; . "{ROOT}/scripts/setup.sh"; set_up {" ".join(extras)}'
        environment = {
            "PATH": os.environ["PATH"], "REEDMILL_PYTHON": str(self.python),
            "REEDMILL_SYSTEM_PACKAGES": "no", "REEDMILL_TEST_ASKED": str(self.asked),
            "REEDMILL_TEST_ANSWER": str(self.answer),
        }  # fmt: skip
        return subprocess.run(
            ["sh", "-euc", script, "sh", str(self.root)],
            env=environment, capture_output=True, text=True, timeout=60,
        )  # fmt: skip

    @property
    def orders(self) -> list[str]:
        """Every ``python -m pip ...`` so far, in order, from its ``-m`` on."""
        return self.asked.read_text("utf-8").splitlines() if self.asked.exists() else []


@pytest.fixture
def checkout(tmp_path: Path) -> Checkout:
    return Checkout(tmp_path)


@pytest.mark.parametrize(
    ("extras", "locks"),
    [
        (("soundfont",), ["locks/build.txt", "locks/soundfont.txt"]),
        (("soundfont", "test"), ["locks/build-test.txt", "locks/test.txt"]),
    ],
)
def test_the_set_up_takes_everything_by_its_digest_and_our_own_files_alone_without(
    checkout: Checkout, extras: tuple[str, ...], locks: list[str]
) -> None:
    done = checkout.set_up(*extras)
    assert done.returncode == 0, done.stderr
    *locked, ours = checkout.orders
    assert [re.findall(r"--requirement (\S+)", order) for order in locked] == [[x] for x in locks]
    assert all("--require-hashes" in order for order in locked)
    assert all("--no-build-isolation" in order for order in checkout.orders)
    assert "--only-binary :all:" in locked[0]
    assert ours.endswith("--no-index --no-deps --editable .")
    # Packages come from where the person's own settings of pip say.
    assert not re.search(r"--(extra-)?index-url|--find-links|--trusted", " ".join(locked))


def test_the_set_up_does_nothing_when_nothing_changed_and_all_again_when_a_lock_did(
    checkout: Checkout,
) -> None:
    checkout.set_up("soundfont")
    once = len(checkout.orders)
    assert checkout.set_up("soundfont").returncode == 0
    assert len(checkout.orders) == once == 3
    (checkout.root / "locks" / "soundfont.txt").write_text("# newer\n", "utf-8")
    assert checkout.set_up("soundfont").returncode == 0
    assert len(checkout.orders) == 2 * once


def test_what_tests_need_stays_when_a_player_comes_afterwards(checkout: Checkout) -> None:
    checkout.set_up("soundfont", "test")
    (checkout.root / "locks" / "build.txt").write_text("# newer\n", "utf-8")
    checkout.set_up("soundfont")
    assert "locks/test.txt" in checkout.orders[-2]


MISMATCH = """ERROR: THESE PACKAGES DO NOT MATCH THE HASHES FROM THE REQUIREMENTS FILE. If you have
        Expected sha256 0af
"""


def test_a_package_with_another_digest_stops_the_set_up_and_the_next_run_starts_afresh(
    checkout: Checkout,
) -> None:
    """The capital words are pip's own, in its class HashMismatch."""
    checkout.answer.write_text(MISMATCH, "utf-8")
    done = checkout.set_up("soundfont")
    assert done.returncode == 1
    assert "pip could not install what locks/build.txt names. The end of " in done.stderr
    assert "Expected sha256 0af" in done.stderr
    assert "A package is not the one that was tested" in done.stderr
    assert "network" not in done.stderr
    assert len(checkout.orders) == 1  # nothing after it was installed
    checkout.answer.unlink()
    assert checkout.set_up("soundfont").returncode == 0


def test_a_set_up_without_a_network_says_so(checkout: Checkout) -> None:
    checkout.answer.write_text("ERROR: Could not find a version\n", "utf-8")
    done = checkout.set_up("soundfont")
    assert done.returncode == 1
    assert "Most often this is the network: run this again when it is there" in done.stderr


def test_an_environment_the_set_up_did_not_make_is_left_alone(checkout: Checkout) -> None:
    foreign = checkout.root / ".venv"
    foreign.mkdir()
    (foreign / "mine").write_text("kept", "utf-8")
    done = checkout.set_up("soundfont")
    assert done.returncode == 1
    assert f"{foreign} was not made by this script, so it is left alone" in done.stderr
    assert (foreign / "mine").read_text("utf-8") == "kept"
    assert checkout.orders == []


@pytest.mark.parametrize("kind", ["a file", "a link to an environment", "a link to nothing"])
def test_whatever_has_the_name_of_the_environment_is_left_alone(
    kind: str, checkout: Checkout, tmp_path: Path
) -> None:
    place, theirs = checkout.root / ".venv", tmp_path / "theirs"
    if kind == "a file":
        place.write_text("kept", "utf-8")
    else:
        place.symlink_to(theirs)
    if kind == "a link to an environment":
        (theirs / "bin").mkdir(parents=True)
        (theirs / "pyvenv.cfg").write_text("kept", "utf-8")

    def as_found() -> list[tuple[Path, int, int, int]]:
        found = [(path, path.lstat()) for path in (place, *sorted(theirs.rglob("*")))]
        return [(path, it.st_ino, it.st_mode, it.st_mtime_ns) for path, it in found]

    before = as_found()
    done = checkout.set_up("soundfont", "test")
    assert done.returncode == 1
    assert f"{place} was not made by this script, so it is left alone" in done.stderr
    assert as_found() == before
    assert checkout.orders == []


def test_environments_that_a_person_put_aside_are_left_alone(checkout: Checkout) -> None:
    """The set-up itself says "rename it", and .venv-old is what people call it."""
    for name in (".venv-old", ".venv-new", ".venv-aside"):
        (checkout.root / name).mkdir()
        (checkout.root / name / "mine").write_text("kept", "utf-8")
    assert checkout.set_up("soundfont").returncode == 0
    shutil.rmtree(checkout.root / ".venv" / "bin")  # cut short: it is made anew
    assert checkout.set_up("soundfont").returncode == 0
    for name in (".venv-old", ".venv-new", ".venv-aside"):
        assert (checkout.root / name / "mine").read_text("utf-8") == "kept"
    assert len(list(checkout.root.glob(".venv*"))) == 4  # and nothing of its own is left


def test_a_link_to_another_environment_is_replaced_and_its_target_left_alone(
    checkout: Checkout, tmp_path: Path
) -> None:
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    (elsewhere / "reedmill-setup").write_text("1 2 /another/checkout\ntest\n/python\n", "utf-8")
    (checkout.root / ".venv").symlink_to(elsewhere)
    assert checkout.set_up("soundfont").returncode == 0
    assert not (checkout.root / ".venv").is_symlink()
    assert [path.name for path in elsewhere.iterdir()] == ["reedmill-setup"]


# ---- what CI counts on ----------------------------------------------------------------


def test_ci_takes_away_what_could_weaken_the_tests_and_keeps_where_packages_come_from() -> None:
    weakening = {
        "PYTEST_ADDOPTS": "-k none", "PYTEST_PLUGINS": "mine", "PYTHONPATH": "/mine",
        "PYTHONOPTIMIZE": "2", "PYTHONWARNINGS": "ignore", "PIP_NO_DEPS": "1",
        "PIP_REQUIRE_VIRTUALENV": "1", "PIP_TARGET": "/mine", "MYPYPATH": "/mine",
        "RUFF_NO_CACHE": "1", "HYPOTHESIS_STORAGE_DIRECTORY": "/mine", "PIP_CONSTRAINT": "mine",
    }  # fmt: skip
    kept = {
        "PATH": os.environ["PATH"], "HOME": "/home/me", "PIP_FIND_LINKS": "/wheels",
        "PIP_INDEX_URL": "https://mirror.example/simple", "PIP_CERT": "/certificate",
        "PIP_CONFIG_FILE": "/pip.conf", "REEDMILL_PYTHON": "python3.12",
    }  # fmt: skip
    done = subprocess.run(
        ["bash", "-c", ". .ci/environment; env"],
        cwd=ROOT, env=weakening | kept, capture_output=True, text=True, check=True,
    )  # fmt: skip
    left = dict(line.split("=", 1) for line in done.stdout.splitlines())
    assert weakening.keys().isdisjoint(left)
    assert {name: left.get(name) for name in kept} == kept
    assert ". .ci/environment" in (ROOT / ".ci" / "run").read_text("utf-8")


@pytest.mark.parametrize(
    ("log", "enough"),
    [
        ("==== 10463 passed in 251.20s (0:04:11) ====", True),
        ("==== 10463 passed, 2 warnings in 251.20s (0:04:11) ====", True),
        ("==== 12 xfailed, 10000 passed in 251.20s ====", True),
        ("==== 9999 passed in 251.20s ====", False),
        ("==== 9000 passed, 10463 deselected in 251.20s ====", False),
        ("==== no tests ran in 0.10s ====", False),
        ("==== 10463 passed in 1.00s ====\n==== 1 passed in 0.10s ====", False),
        ("", False),
    ],
)
def test_ci_fails_when_tests_were_lost(log: str, enough: bool, tmp_path: Path) -> None:
    """The lines are as pytest writes its summary."""
    path = tmp_path / "log"
    path.write_text(f"{log}\n", "utf-8")
    done = subprocess.run(
        ["bash", ".ci/enough", "10000", str(path)], cwd=ROOT, capture_output=True, text=True
    )
    assert (done.returncode == 0) is enough, done.stdout
    assert bool(done.stdout) is not enough
