"""The published schema of MusicXML 4.0 (W3C), in two validators."""

from __future__ import annotations

from functools import cache
from typing import Any

import lxml.etree
import xmlschema

from oracles import beside

SCHEMA = beside("musicxml", "generate_classes/musicxml_4_0.xsd")


class Imported(lxml.etree.Resolver):  # type: ignore[misc]
    """Gives the schema the two schemas it imports by web address."""

    def resolve(self, system_url: str, public_id: str, context: object) -> Any:
        """The file *system_url* stands for, out of a package."""
        del public_id
        for name, path in (("xlink.xsd", "XLINK/xlink.xsd"), ("xml.xsd", "XML/xml.xsd")):
            if system_url.endswith(f"/{name}"):
                return self.resolve_filename(beside("xmlschema", f"schemas/{path}"), context)
        return None


@cache
def libxml_schema() -> Any:
    parser = lxml.etree.XMLParser(no_network=True)
    parser.resolvers.add(Imported())
    return lxml.etree.XMLSchema(lxml.etree.parse(SCHEMA, parser))


@cache
def python_schema() -> Any:
    return xmlschema.XMLSchema(SCHEMA)
