"""The sentences of advice, each in one place for all who give it: the command and the page.

What stands in braces is put in by ``advice``; figures come as text.
"""

from __future__ import annotations

SENTENCES = {
    "out": "{rung} is {cents} cents {side}{often}: {cause}.",
    "often": " in {out} of {count} tries",
    "right": " From {reed} it is right.",
    "sharp": "sharp",
    "flat": "flat",
    "bend-sharp": "you stop too early; go on down",
    "bend-flat": "you go too far down; stop earlier",
    "overbend-sharp": "let it sink a little",
    "overbend-flat": "it has not come up all the way",
    "natural-flat": "it sinks as a bend does; open up, and breathe more softly",
    "natural-sharp-always": (
        "no player pulls a reed far up, so the reed itself may be sharp; a harp test tells"
    ),
    "natural-sharp": "hold it long and compare it with the anchor",
    "from": "{reed}, from {before},",
    "another": (
        "{reed} came out at the pitch of {heard} in {count} of {of} tries: aim first, then breathe."
    ),
    "missed": "{missed} of {of} notes were not heard: play more slowly until all of them speak.",
    "scattered": (
        "{rung} is somewhere else each time: hold it long and compare it with the anchor."
    ),
    "slow": (
        "{reed} takes {seconds} s to find its pitch: have the mouth in place before the air moves."
    ),
    "stay": "{good} of {of} notes were in their place: stay at this tempo.",
    "not-judged": "Several holes at once are not judged: {tabs}.",
    "faster": "{good} of {of} notes were in their place: try it a little faster.",
}
