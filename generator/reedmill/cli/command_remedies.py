"""Remedies in the words of the command line: its options and commands."""

from __future__ import annotations

from reedmill.base.remedies import Remedy, Words

COMMAND_LINE: Words = {
    Remedy.REPEAT_TO_FADE: "{fact} Write for example --repeat 4 with it.",
    Remedy.LADDER_TO_PART: "--{fact} Add --ladder.",
    Remedy.DRONE_TO_LOOP: "--{fact} Add --drone.",
    Remedy.TONES_TO_VERIFY: "--{fact} Leave it out.",
    Remedy.SOMETHING_TO_HEAR: "{fact} Add --drone or --click.",
    Remedy.SOMETHING_BESIDE: (
        "--stems and --wide need something beside the tones. Add --drone or --click."
    ),
    Remedy.TYPE_WITH_BITS: "--bits is for WAV and FLAC. Add one of them: --audio wav",
    Remedy.TYPES_NAMED: "{fact} Write for example: --audio wav,mp3",
    Remedy.REPEAT_RECORDING: (
        "{fact} To practise for long, repeat the recording: reedmill make mine.drill --repeat 20"
    ),
    Remedy.LOOPED_OVER_FORM: "{stem}, so this is what --lay loop gives",
    Remedy.TEMPO_OF_FEEL: "{fact} Choose a tempo in that range with --tempo, or another --feel.",
    Remedy.KIND_OF_SOUND: "{fact} Write --to wav --audio {kind}",
    Remedy.FORMAT_OF_ENDING: "{fact} Write --to {format}",
    Remedy.HARP_HEARD: "{fact} Name that one: --harp {typed}",
    Remedy.OTHER_ENCODER: (
        "{fact} Choose another type with --audio, or install the package soundfile from PyPI, "
        "which brings one that does."
    ),
    Remedy.ANOTHER_VOICE: (
        "{fact} Choose another harp, another font or the reed voice; reedmill soundfont shows "
        "every key, and why."
    ),
    Remedy.RUNGS_TO_ASK: (
        "{fact} Write --to sheet,tones for its dictation alone, or take a drill with rungs: "
        "reedmill drills --topic home"
    ),
    Remedy.CHORDS_NAMED: ("--chords takes 1 to {most} chords, for example: --chords 'I7 IV7 V7'"),
    Remedy.NOTES_OF_HARP: "{stem}; reedmill notes lists them all.",
    Remedy.FIND_DRILL: (
        "{fact} Put a whole title in quotes; reedmill drills lists them. A file of your own ends "
        "in .drill."
    ),
    Remedy.FIND_ON_TOPIC: "{fact} reedmill drills --topic {topic} lists what there is.",
    Remedy.USE_DRILL: "{fact} Make its sheet and sound with: reedmill make {file}",
    Remedy.USE_FORM: (
        "{fact} Play it with: reedmill backing --form {file}, or under a drill with --over {file}"
    ),
    Remedy.USE_FEEL: (
        '{fact} Play a form with it: reedmill backing --form "Twelve bars" --feel {file}'
    ),
    Remedy.USE_COURSE: "{fact} Build it with: reedmill pack {file}",
    Remedy.USE_TUNING: "{fact} Give it beside a drill: --tuning {file}",
    Remedy.USE_OWN_HARP: "{fact} Give it beside a drill: --my-harp {file}",
    Remedy.USE_SOUNDFONT: (
        "{fact} Give it with --voice for the tones or --band for the band; reedmill soundfont "
        "measures it."
    ),
    Remedy.USE_TAKE: (
        "{fact} To have a take of a drill heard, write: reedmill hear take.m4a --drill mine.drill"
    ),
    Remedy.FORM_INSTEAD: "{stem}: give it with --form, or with --over under a drill.",
    Remedy.FEEL_INSTEAD: "{stem}: give it with --feel.",
    Remedy.FILE_IN_THE_WAY: (
        "{fact}\nWrite --replace to have it replaced, or name another folder with --out."
    ),
    Remedy.FOLDER_OF_PACK: "{fact} Name the folder you gave to reedmill pack with --out.",
    Remedy.LINK_IN_THE_WAY: "{fact} Remove the link, or choose another folder with --out.",
    Remedy.OTHER_PACK_THERE: (
        "{fact} Choose another folder with --out, so that both keep their files."
    ),
    Remedy.STRANGE_FILE_THERE: "{fact} Move it away, or choose another folder with --out.",
    Remedy.HEAR_INSTALLED: "{fact} Install it with: pip install 'reedmill[hear]'",
    Remedy.NAME_DRILL: "{fact} Name the drill with --drill; reedmill drills lists them.",
    Remedy.DRILL_OF_TAKE: (
        "{fact} Name the recording, then the drill: reedmill hear take.m4a --drill {file}"
    ),
    Remedy.ZIP_OR_LESSON: "--zip packs whole courses. Leave out --zip or --lesson.",
    Remedy.ONE_JOB: "{stem}; try --jobs 1.",
    Remedy.ONE_DRAWN_ALONE: (
        '{fact} Try it with one drill: reedmill make "Two bars home". If it hangs there too, '
        "install LilyPond again."
    ),
    Remedy.DASK_INSTALLED: "--on {fact} Install it with: pip install 'reedmill[dask]'",
    Remedy.DASK_STARTED: (
        "{fact} Start one with dask scheduler, and workers for it with dask worker; then write "
        "the address it shows after --scheduler."
    ),
}
