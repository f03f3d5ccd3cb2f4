"""Expansion: a drill on a harp in a position becomes a score.

``playing`` decides who plays what, ``fingering`` which reeds sing a tune and ``homing``
where its phrases come to rest, ``reed_choices`` why, ``timing`` exactly when, ``breath`` where
to take air; ``expansion`` puts them together.
"""

from reedmill.expand.expansion import check_reference, expand, versions, ways, why_reeds

__all__ = ["check_reference", "expand", "versions", "ways", "why_reeds"]
