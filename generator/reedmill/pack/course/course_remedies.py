"""Remedies in the words of a course file, and of the commands that build it."""

from __future__ import annotations

from reedmill.base.errors import InputError
from reedmill.base.remedies import Remedy, Words

IN_A_COURSE: Words = {
    Remedy.REPEAT_TO_FADE: "{fact} Write for example: repeat = 4",
    Remedy.LADDER_TO_PART: '{fact} Write for example: ladder = "60 to 90 by 5"',
    Remedy.DRONE_TO_LOOP: '{fact} Write for example: drone = "root"',
    Remedy.TONES_TO_VERIFY: "{fact} The tones of a course are always there: leave it out.",
    Remedy.SOMETHING_TO_HEAR: '{fact} Write for example: drone = "root"',
    Remedy.SOMETHING_BESIDE: '{fact} Write for example: drone = "root"',
    Remedy.TYPE_WITH_BITS: '{fact} Write for example: audio = ["wav"]',
    Remedy.TYPES_NAMED: '{fact} Write for example: audio = ["mp3"]',
    Remedy.REPEAT_RECORDING: (
        "{fact} To practise for long, repeat the recording: write repeat = 20 at its exercise."
    ),
    Remedy.LOOPED_OVER_FORM: '{stem}, so this is what lay = "loop" gives',
    Remedy.TEMPO_OF_FEEL: "{fact} Give the exercise a tempo in that range, or another feel.",
    Remedy.KIND_OF_SOUND: '{fact} Write for example: audio = ["{kind}"]',
    Remedy.FORMAT_OF_ENDING: '{fact} Write for example: hand_out = ["{format}"]',
    Remedy.HARP_HEARD: '{fact} Write for example: harps = ["{harp}"]',
    Remedy.OTHER_ENCODER: '{fact} Choose another type: audio = ["wav"]',
    Remedy.ANOTHER_VOICE: "{fact} Choose other harps.",
    Remedy.RUNGS_TO_ASK: "{fact} Take a drill with rungs.",
    Remedy.CHORDS_NAMED: "{fact} Leave some of them out.",
    Remedy.NOTES_OF_HARP: "{stem}; reedmill notes lists them all.",
    Remedy.FIND_DRILL: (
        "{fact} reedmill drills lists the library; for a drill of your own, name its file too: "
        'file = "mine.drill"'
    ),
    Remedy.FIND_ON_TOPIC: "{fact} reedmill drills --topic {topic} lists what there is.",
    Remedy.USE_DRILL: '{fact} A drill is an exercise. Write its title, and file = "mine.drill"',
    Remedy.USE_FORM: '{fact} Put it under an exercise: backing = {{ form = "mine.form" }}',
    Remedy.USE_FEEL: (
        '{fact} Play a form with it: backing = {{ form = "Twelve bars", feel = "mine.feel" }}'
    ),
    Remedy.USE_COURSE: "{fact} A course holds no other course: build each by itself.",
    Remedy.USE_TUNING: '{fact} A course takes the name of a layout: tuning = "richter"',
    Remedy.USE_OWN_HARP: "{fact} A course takes the harps of its students by key.",
    Remedy.USE_SOUNDFONT: "{fact} No key of a course takes a SoundFont. Name a file of text.",
    Remedy.USE_TAKE: "{fact} A course makes recordings, and plays none of yours.",
    Remedy.FORM_INSTEAD: '{stem}: write form = "{asked}".',
    Remedy.FEEL_INSTEAD: '{stem}: write feel = "{asked}".',
    Remedy.FILE_IN_THE_WAY: "{fact} Move it away.",
    Remedy.FOLDER_OF_PACK: "{fact} Name the folder the course was built in.",
    Remedy.LINK_IN_THE_WAY: "{fact} Remove the link.",
    Remedy.OTHER_PACK_THERE: "{fact} Build the courses in folders of their own.",
    Remedy.STRANGE_FILE_THERE: "{fact} Move it away.",
    Remedy.HEAR_INSTALLED: "{fact} Install it with: pip install 'reedmill[hear]'",
    Remedy.NAME_DRILL: "{fact} Name the drill.",
    Remedy.DRILL_OF_TAKE: "{fact} Name a recording.",
    Remedy.ZIP_OR_LESSON: "{fact} Pack the whole course.",
    Remedy.ONE_JOB: "{fact} Build fewer pieces at once.",
    Remedy.ONE_DRAWN_ALONE: "{fact} Build one lesson first. If it hangs there too, install "
    "LilyPond again.",
    Remedy.DASK_INSTALLED: "{fact} Install it with: pip install 'reedmill[dask]'",
    Remedy.DASK_STARTED: "{fact} Start one with dask scheduler, and workers with dask worker.",
}


def in_course(error: InputError) -> str:
    """Return the message of *error* for the author of the course.

    >>> in_course(InputError("It can only fade out over repeats.", way_out=Remedy.REPEAT_TO_FADE))
    'It can only fade out over repeats. Write for example: repeat = 4'
    """
    return str(error.worded(IN_A_COURSE))
