"""The bill of materials of an installed Reedmill: every package with licence and digest.

A CycloneDX document, made by cyclonedx-py from what is installed; cyclonedx-py cannot know
which files that came from, so the digests of the files pip fetched are added here.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from typing import Any

from packaging.utils import canonicalize_name, parse_sdist_filename, parse_wheel_filename

from locks import Pin

SPEC = "1.6"
Document = dict[str, Any]


def package_of(file_name: str) -> str:
    """The canonical name of the package that a wheel or a source archive holds.

    >>> package_of("pretty_midi-0.2.11-py3-none-any.whl"), package_of("abjad-3.19.tar.gz")
    ('pretty-midi', 'abjad')
    """
    parse = parse_wheel_filename if file_name.endswith(".whl") else parse_sdist_filename
    return parse(file_name)[0]


def with_digests(document: Document, digests: Mapping[str, str]) -> Document:
    """*document* with the digest of the file that each of its components was installed from."""
    return {
        **document,
        "components": [
            {**component, "hashes": [{"alg": "SHA-256", "content": digest}]}
            if (digest := digests.get(canonicalize_name(component["name"])))
            else component
            for component in document["components"]
        ],
    }


def gaps(document: Document, pins: Iterable[Pin]) -> list[str]:
    """What *document* lacks or has too much of, compared with the *pins* of a lock."""
    used = {pin.name: pin for pin in pins if pin.is_for_here}
    components: dict[str, Document] = {
        canonicalize_name(each["name"]): each for each in document["components"]
    }
    found = [f"{name} is not in a lock" for name in sorted(set(components) - set(used))]
    for name, pin in sorted(used.items()):
        if name not in components:
            found.append(f"{name} is missing")
        else:
            found += [f"{name} {gap}" for gap in gaps_of(components[name], pin)]
    return found


def gaps_of(component: Mapping[str, Any], pin: Pin) -> Iterable[str]:
    if component["version"] != pin.version:
        yield f"is {component['version']}, and {pin.version} in the lock"
    digests = {each["content"] for each in component.get("hashes", ())}
    if not digests or not digests <= pin.digests:
        yield "has no digest that is in the lock"


def without_licence(document: Document) -> list[str]:
    """The packages that state no licence in their metadata."""
    return [each["name"] for each in document["components"] if not each.get("licenses")]


def mistakes_by_the_schema(document: Document) -> str:
    """What CycloneDX's own JSON schema, strictly read, objects to; empty when it is valid."""
    from cyclonedx.schema import SchemaVersion
    from cyclonedx.validation.json import JsonStrictValidator

    version = SchemaVersion.from_version(SPEC)
    return str(JsonStrictValidator(version).validate_str(json.dumps(document)) or "")
