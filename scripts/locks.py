"""The files of ``locks/``, read: each package with its version and the files it may be."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parents[1]
LOCKS = ROOT / "locks"


@dataclass(frozen=True, slots=True)
class Pin:
    """One version of a package, where it is used, and its SHA-256 digests in hexadecimal."""

    name: str  # canonical: lower case, with hyphens
    version: str
    requirement: Requirement
    digests: frozenset[str]

    @property
    def is_for_here(self) -> bool:
        """Whether this machine and its Python use it."""
        marker = self.requirement.marker
        return marker is None or marker.evaluate()


def read_lock(name: str) -> tuple[Pin, ...]:
    """Every pin of ``locks/NAME.txt``."""
    return tuple(pins_of((LOCKS / f"{name}.txt").read_text("utf-8")))


def pins_of(text: str) -> Iterable[Pin]:
    r"""Every pin of the *text* of a lock.

    >>> [pin] = pins_of("ply==3.11 ; python_version > '3' \\\n    --hash=sha256:0af\n    # via x")
    >>> pin.name, pin.version, sorted(pin.digests), pin.is_for_here
    ('ply', '3.11', ['0af'], True)
    """
    remarks = re.compile(r"^\s*#.*\n?", re.MULTILINE)
    for line in remarks.sub("", text).replace("\\\n", " ").splitlines():
        words, *options = line.split(" --hash=")
        requirement = Requirement(words)
        [version] = requirement.specifier
        if version.operator != "==":
            raise ValueError(f"{line!r} must name one version")
        digests = frozenset(option.strip().removeprefix("sha256:") for option in options)
        yield Pin(canonicalize_name(requirement.name), version.version, requirement, digests)
