"""The pattern language: text in, drills out, and messages a musician can act on."""

from reedmill.language.drill import Drill, Event, Group
from reedmill.language.parser import parse, parse_file, parse_together, read_pattern

__all__ = ["Drill", "Event", "Group", "parse", "parse_file", "parse_together", "read_pattern"]
