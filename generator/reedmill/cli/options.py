"""Options that commands share, their completion, and the handling of mistakes in them.

Nothing but click is imported at the top, so that help is there at once.
"""

from __future__ import annotations

import re
from contextlib import suppress
from functools import partial
from typing import TYPE_CHECKING, Any

import click

from reedmill.base.ranges import LEAD_IN_S, MOST_LEAD_IN_S, TEMPI_IN_WORDS
from reedmill.cli.ending import say_error, say_usage
from reedmill.cli.meant import EXAMPLES, check_command_first, check_words, is_thing
from reedmill.cli.saying import warn

if TYPE_CHECKING:
    from collections.abc import Callable

    from click.shell_completion import CompletionItem

_STOPPED = 130  # the exit code of shells for a program that Ctrl-C ended
_HARP_HELP = "The student's harp: C, Bb, F#, 'low F', 'high G'. Commas between several."
_KEY_HELP = (
    "The key of the song, instead of --harp: E, Bb, 'F# minor'. The harp that plays in it in "
    "--position is taken."
)


class Commands(click.Group):
    """A command group that corrects mistyped commands and prints our own errors."""

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Return the command asked for; refuse a mistyped one with the nearest name."""
        name = args[0] if args else ""
        mistyped = name and not name.startswith("-") and self.get_command(ctx, name) is None
        if mistyped and not ctx.resilient_parsing:  # a shell that asks is not to be scolded
            from reedmill.base.errors import close_match

            known = self.list_commands(ctx)
            check_command_first(name, args, known)
            raise click.UsageError(
                f'there is no command "{name}".{close_match(name, known)} '
                f"Commands are: {', '.join(known)}.",
                ctx,
            )
        return super().resolve_command(ctx, args)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; our own errors become one message and their exit code."""
        from reedmill.base.errors import ReedmillError

        try:
            return super().invoke(ctx)
        except ReedmillError as error:
            ctx.exit(say_error(error))
        except KeyboardInterrupt:
            _say_stopped()
            ctx.exit(_STOPPED)

    def main(self, *words: Any, **settings: Any) -> Any:
        """Answer a command line; print click's own errors in our form."""
        alone = settings.pop("standalone_mode", True)
        answer: Callable[[], Any] = partial(super().main, *words, **settings, standalone_mode=False)
        if not alone:
            return answer()
        try:
            code = answer()
        except click.Abort:
            _say_stopped()
            code = _STOPPED
        except click.ClickException as error:
            code = say_usage(error)
        raise SystemExit(code or 0)


def _say_stopped() -> None:
    from reedmill.base.stopping import told_when_stopped

    warn(*told_when_stopped())


class Lenient(click.Command):
    """A command whose options may leave out their value, also before a drill.

    click would take the next word whatever it is: ``--drone "Two bars home"``.  Here such
    an option takes only a word that looks like its value, and words that are left over are
    told what they were meant to be.
    """

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Give every option without a value its meaning, then parse as click does."""
        maybe = {
            name: param
            for param in self.params
            if isinstance(param, MaybeValued)
            for name in param.opts
        }
        words: list[str] = []
        for at, word in enumerate(args):
            if word == "--":
                words += args[at:]
                break
            following = args[at + 1] if at + 1 < len(args) else ""
            if word in maybe and not maybe[word].is_value(following):
                maybe[word].check_meant(ctx, word, following)
                word = f"{word}={maybe[word].alone}"
            words.append(word)
        if not ctx.resilient_parsing:
            check_words(ctx, args)
        return super().parse_args(ctx, words)


class MaybeValued(click.Option):
    """An option that means *alone* without a value; a value must match *pattern*.

    *values* says in words what may follow it, and *told* what it means alone.
    """

    def __init__(
        self, *args: Any, alone: str, pattern: str, values: str, told: str = "", **settings: Any
    ) -> None:
        self.alone, self.value_pattern = alone, pattern
        self.values, self.told = values, told or alone
        super().__init__(*args, **settings)

    def is_value(self, word: str) -> bool:
        """Tell whether *word*, which follows the option, is its value."""
        return re.fullmatch(self.value_pattern, word, re.IGNORECASE) is not None

    def check_meant(self, ctx: click.Context, option: str, word: str) -> None:
        """Refuse a *word* after *option* that is neither its value nor a drill.

        Such a word was meant as a value, and would be looked for in the library.
        """
        from reedmill.base.errors import InputError, close_match

        if not word or word.startswith("-") or ctx.resilient_parsing:
            return
        takes = next((each.name for each in ctx.command.params
                      if isinstance(each, click.Argument)), None)  # fmt: skip
        if takes and is_thing(ctx.command, word):
            return
        values = self.values.replace(" or ", ", ").split(", ")
        other = "take" if takes == "takes" else "drill"
        neither = f"neither a value of {{}} nor a {other}" if takes else "not a value of {}"
        raise InputError(
            f'"{word:.40}" is {neither.format(option)}.{close_match(word[:40], values)} '
            f"Write {option} {self.values}; alone it means {self.told}."
            + (" reedmill drills lists the drills." if takes and other == "drill" else "")
        )


class WholeNumber(click.types.IntParamType):
    """A whole number of at most as many digits as files allow, leading zeros counted.

    It may go from *least* to *most*, where these are given.
    """

    def __init__(self, least: int | None = None, most: int | None = None) -> None:
        self.min, self.max = least, most

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Read the number; refuse a longer one, never cut it."""
        from reedmill.base.errors import InputError
        from reedmill.base.text import MOST_DIGITS

        if isinstance(value, str) and sum(map(str.isdigit, value)) > MOST_DIGITS:
            self.fail(
                f'"{value:.20}..." has more than {MOST_DIGITS} digits. '
                "Write the number without zeros in front.",
                param, ctx,
            )  # fmt: skip
        number = _number(int, "a whole number", value, param)
        if self.min is not None and self.max is not None and not self.min <= number <= self.max:
            name = param.opts[0] if param else ""
            raise InputError(f"{name} goes from {self.min} to {self.max}; {number} is not in it.")
        return number


class OneOf(click.Choice[str]):
    """One of a few words, in any case; *what* is the thing that is chosen."""

    def __init__(self, what: str, *words: str) -> None:
        super().__init__(words, case_sensitive=False)
        self.what = what

    def convert(self, value: str, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """Return the word; raise ``InputError`` with the nearest one where it is none."""
        del param, ctx
        from reedmill.base.choosing import chosen_word

        return chosen_word(self.what, value, self.choices)


class DecimalNumber(click.types.FloatParamType):
    """A number that may have decimals, with a point."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Read the number."""
        del ctx
        return _number(float, "a number", value, param)


def _number(
    reads: Callable[[Any], Any], what: str, value: Any, param: click.Parameter | None
) -> Any:
    """Read *value* with *reads*; raise ``InputError`` with an example where it is not a number."""
    from reedmill.base.errors import InputError

    with suppress(ValueError):
        return reads(value)
    name = param.opts[0] if param else ""
    several = re.fullmatch(r"\s*(\d+)[-, ]+(\d+)\s*", value) if name == "--tempo" else None
    instead = (
        f'Several tempi are a ladder: --ladder "{several[1]} to {several[2]} by 5"'
        if several
        else f"Write for example: {name} {EXAMPLES.get(name, '4')}"
    )
    raise InputError(f'{name} takes {what} and nothing else, not "{value:.40}". {instead}')


WHOLE = WholeNumber()


# --- completion ------------------------------------------------------------------------


# A word with a space in it would reach the command as two, so names are completed in the
# spelling that has none: low-F, home-from-every-rung.


def complete_harp(_ctx: click.Context, _param: click.Parameter, start: str) -> list[str]:
    """Complete the names of harps."""
    from reedmill.harp import HARP_KEYS

    names = [*HARP_KEYS, *(f"low-{key}" for key in HARP_KEYS)]
    return [name for name in names if name.lower().startswith(start.lower())]


def complete_key(_ctx: click.Context, _param: click.Parameter, start: str) -> list[str]:
    """Complete the keys of songs."""
    from reedmill.harp import HARP_KEYS

    names = [*HARP_KEYS, *(f"{key}m" for key in HARP_KEYS)]
    return [name for name in names if name.lower().startswith(start.lower())]


def complete_drill(
    _ctx: click.Context, _param: click.Parameter, start: str
) -> list[CompletionItem]:
    """Complete shipped drills; the shell completes file names when there is none."""
    from click.shell_completion import CompletionItem

    from reedmill.base.errors import ReedmillError
    from reedmill.base.text import file_slug
    from reedmill.library import shipped

    titles: list[str] = []
    with suppress(ReedmillError):  # a shell has no place for what is wrong with a file
        titles = [each.drill.title for each in shipped()]
    found = [CompletionItem(file_slug(title), help=title) for title in titles]
    fitting = [item for item in found if item.value.startswith(start.lower())]
    return fitting or [CompletionItem(start, type="file")]


# --- options shared by several commands --------------------------------------------------


def options(*several: Callable[..., Any]) -> Callable[..., Any]:
    """Combine several options into one decorator; help lists them in this order."""

    def apply(command: Callable[..., Any]) -> Callable[..., Any]:
        for option in reversed(several):
            command = option(command)
        return command

    return apply


def only_one(_ctx: click.Context, param: click.Parameter, values: tuple[str, ...]) -> str | None:
    """Return the one position or key asked for; refuse several rather than drop one silently."""
    from reedmill.base.errors import InputError

    words = [word.strip() for text in values for word in text.split(",")]
    if len(words) > 1:
        name = param.opts[0]
        raise InputError(
            f'{name} takes one {name.lstrip("-")} here, and "{", ".join(words):.60}" names '
            f"{len(words)}. Give the command once for each."
        )
    return words[0] if words else None


def given_together(_ctx: click.Context, _param: click.Parameter, values: tuple[str, ...]) -> str:
    """Return what is given several times as one text with commas."""
    return ",".join(values)


position_option = click.option(
    "--position", multiple=True, callback=only_one, default=("2",), show_default="2", metavar="N",
    help="1 to 12, or in words: 1 is straight harp, 2 cross harp.",
)  # fmt: skip
own_position_option = click.option(
    "--position", "positions", multiple=True, metavar="N",
    help="1 to 12, or in words: 1 is straight harp, 2 cross harp. Commas between several.  "
    "[default: 2, or what the drill is for]",
)  # fmt: skip
tuning_option = click.option(
    "--tuning", default="richter", show_default=True, metavar="NAME",
    help="Layout of the reeds: richter, country, natural-minor, or a .toml file. --harp is the "
    "key of the blow chord; a natural-minor harp sold as Gm is --harp C.",
)  # fmt: skip
reference_option = click.option(
    "--reference", type=DecimalNumber(), default=440.0, show_default=True, metavar="HZ",
    help="Frequency of A4; many harps are tuned to 442 or 443.",
)  # fmt: skip
json_option = click.option("--json", "as_json", is_flag=True, help="Print data for other programs.")
replace_option = click.option(
    "--replace", is_flag=True,
    help="Replace also files that Reedmill did not make, or made for something else.",
)  # fmt: skip
repeat_option = click.option(
    "--repeat", type=WHOLE, default=1, metavar="TIMES",
    help="How many times the drill is played.",
)  # fmt: skip
echo_option = click.option(
    "--echo", cls=MaybeValued, alone="0", metavar="[BARS]", pattern=r"\d+", type=WHOLE,
    values="2 (or another number of bars)", told="the whole drill",
    help="Play this many bars, then leave as many open for your answer.  "
    "[alone: the whole drill]",
)  # fmt: skip
harp_option = click.option(
    "--harp", metavar="KEY", shell_complete=complete_harp,
    help="The harp: C, Bb, F#, 'low F', 'high G'.  [default: C]",
)  # fmt: skip
key_option = click.option(
    "--key", multiple=True, callback=only_one, metavar="KEY", shell_complete=complete_key,
    help=_KEY_HELP,
)  # fmt: skip
keys_option = click.option(
    "--key", "keys", multiple=True, metavar="KEY", shell_complete=complete_key,
    help=_KEY_HELP + " Commas between several.",
)  # fmt: skip
drills_argument = click.argument(
    "drills", nargs=-1, required=True, metavar="DRILL...", shell_complete=complete_drill
)
drills_or_phrases_argument = click.argument(
    "drills", nargs=-1, metavar="DRILL...", shell_complete=complete_drill
)
harps_option = click.option(
    "--harp", "harps", multiple=True, metavar="KEY", shell_complete=complete_harp,
    help=_HARP_HELP + "  [default: C]",
)  # fmt: skip
playing_options = options(
    harps_option,
    keys_option,
    own_position_option,
    click.option(
        "--embouchure", "embouchures", multiple=True, metavar="PLAN",
        help="How the mouth picks out a hole, instead of the drill's own line: lips, tongue left, "
        "tongue right, or 'anchors tongue left, rungs lips'. Each plan after an or is a version.",
    ),
    click.option(
        "--tempo", type=WHOLE, metavar="BPM",
        help=f"Beats a minute, {TEMPI_IN_WORDS}, instead of the drill's own.",
    ),
    click.option(
        "--intonation", default="equal", show_default=True, metavar="NAME",
        help="equal, just5, just7 or blues: how the degrees are tuned against the root.",
    ),
    click.option(
        "--offsets", metavar="CENTS",
        help="Degrees moved by cents of your own: \"b3=-12, b7=-31\".",
    ),
    click.option(
        "--reference", type=DecimalNumber(), metavar="HZ",
        help="Frequency of A4; many harps are tuned to 442 or 443.  "
        "[default: 440, or that of --my-harp]",
    ),
    tuning_option,
    click.option(
        "--temperament", default="equal", show_default=True, metavar="NAME",
        help="equal, just, just19 or compromise: how the reeds of the harp are tuned against each "
        "other; targets and tones follow.",
    ),
    click.option(
        "--my-harp", metavar="FILE",
        help="The file of your own harp, as a harp test has measured it: targets and tones follow "
        "its reeds.",
    ),
)  # fmt: skip


without_option = click.option(
    "--without", multiple=True, callback=given_together, metavar="PLAYERS",
    help="Leave out players of the band: bass, comp or drums, with a comma between two.",
)  # fmt: skip

over_options = options(
    click.option(
        "--over", metavar="FORM",
        help="Lay the drill over a form: its title, or a .form file. reedmill backing lists them.",
    ),
    click.option(
        "--feel", metavar="FEEL",
        help="How the band under it plays: a title, or a .feel file.  [default: Medium shuffle]",
    ),
    click.option(
        "--lay", metavar="HOW",
        help="How the drill goes over the form: loop (again and again), once, or chords (moved to "
        "the root of each chord).  [default: loop]",
    ),
    click.option(
        "--choruses", type=WHOLE, metavar="TIMES",
        help="How many times the form is played.  [default: until the drill has been heard once]",
    ),
    click.option(
        "--seed", type=WHOLE, default=0, show_default=True, metavar="N",
        help="Each number is another performance of the band, always the same.",
    ),
    click.option(
        "--band", default="", metavar="FONT",
        help="Who plays: a SoundFont file, or plain for the built-in band.  "
        "[default: the best there is]",
    ),
    without_option,
)  # fmt: skip


phrasing_options = options(
    click.option(
        "--phrases", is_flag=True,
        help="Fill the form of --over with phrases, two bars each, by its chords: those of the "
        "library, or of each DRILL you name.",
    ),
    click.option(
        "--level", type=WholeNumber(1, 5), metavar="N",
        help="With --phrases: the highest level, 1 to 5.",
    ),
    click.option(
        "--rungs", metavar="TAB",
        help="With --phrases: only phrases whose bends are among these, as tab in quotes, or none.",
    ),
)  # fmt: skip


paper_options = options(
    click.option(
        "--paper", default="a4", show_default=True, metavar="SIZE", help="a4 or letter."
    ),
    click.option("--large", is_flag=True, help="Large print."),
    click.option("--black", is_flag=True, help="Pure black and white."),
)  # fmt: skip
looking_options = options(
    paper_options,
    click.option(
        "--show", default="both", show_default=True, metavar="WHAT",
        help="notation, tab, or both of them.",
    ),
)  # fmt: skip


click_level_option = click.option(
    "--click-level", type=OneOf("click level", "quiet", "even", "loud"),
    default="even", show_default=True,
    help="How loud clicks are beside the music, count-in too: quiet behind it, even with its "
    "beat, or loud over it.",
)  # fmt: skip

lead_in_option = click.option(
    "--lead-in", type=DecimalNumber(), default=LEAD_IN_S, show_default=True, metavar="SECONDS",
    help=f"Silence at the start of a sound file, 0 to {MOST_LEAD_IN_S}: speakers without a "
    "wire and players swallow the first moments.",
)  # fmt: skip

pure_option = click.option(
    "--pure", is_flag=True,
    help="Tones that keep still, the same for every reed and without breath: to tune by.",
)  # fmt: skip


sounding_options = options(
    click.option(
        "--voice", default="", metavar="FONT[:PROGRAM]",
        help="Play the tones with a SoundFont, its tuning measured and put right.",
    ),
    pure_option,
    click.option(
        "--drone", cls=MaybeValued, alone="root", metavar="[TONES]",
        pattern=r"root|fifth|octave|[\w ]+(\+[\w ]*)+",
        values="root, root+fifth, root+octave or root+fifth+octave",
        help="Also make a mix of the tones over a drone: root, root+fifth, root+octave or "
        "root+fifth+octave.  [alone: root]",
    ),
    click.option(
        "--click", "clicking", cls=MaybeValued, alone="beats", metavar="[WHERE]",
        pattern="beats|offbeats", values="beats or offbeats",
        type=click.Choice(["beats", "offbeats"], case_sensitive=False),
        help="Put a click into the mix: beats, or offbeats for those between them too.  "
        "[alone: beats]",
    ),
    click.option(
        "--count-in", type=WHOLE, default=0, metavar="BARS",
        help="Bars clicked before the music; the drone is there first.",
    ),
    click_level_option,
    lead_in_option,
    repeat_option,
    echo_option,
    click.option(
        "--fade-out", is_flag=True, help="Softer tones at each repeat, and none at the last."
    ),
    click.option(
        "--ladder", metavar="TEMPI",
        help="A tempo ladder, several tempi one after the other: \"60 to 90 by 5\".",
    ),
    click.option("--apart", is_flag=True, help="Give each tempo of the ladder a file of its own."),
    click.option("--stems", is_flag=True, help="Also band, drone and click as files of their own."),
    click.option("--wide", is_flag=True, help="Stereo: tones left, drone right."),
    click.option("--loop", is_flag=True, help="Also a drone that can be looped without a seam."),
    click.option(
        "--audio", default="wav", show_default=True, metavar="TYPES",
        help="Any of wav, flac, ogg, mp3, with commas between.",
    ),
    click.option(
        "--bits", type=OneOf("number of bits", "16", "24"), default="16", show_default=True,
        help="How many bits a sample has in WAV and FLAC.",
    ),
    click.option(
        "--verify", is_flag=True,
        help="Measure every tone of the finished files and show how far it is off.",
    ),
)  # fmt: skip
