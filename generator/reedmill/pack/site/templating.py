"""The HTML templates in ``templates/``, in which every value is escaped.

Foreign text comes in as ``str`` and every letter of it is escaped; a name that a template asks
for and nobody gives is an error.  Two things are let through as they are, because we wrote
them: style and script (here), and the tags around a lesson's text (``hypertext.py``).
"""

from __future__ import annotations

from dataclasses import dataclass
from importlib.resources import files as package_files

from markupsafe import Markup

from reedmill.base.page_templates import page_templates, policy_digest


@dataclass(frozen=True, slots=True)
class Asset:
    """A style or script of ours, embedded in the pages."""

    text: Markup

    @property
    def digest(self) -> str:
        """The hash that a Content Security Policy allows it by (W3C, Level 3, 6.7.2.3)."""
        return policy_digest(self.text)


def asset(*names: str) -> Asset:
    """Return the styles or scripts of these *names*, one after the other."""
    folder = package_files("reedmill.pack.site") / "assets"
    text = "".join((folder / name).read_text("utf-8") for name in names)
    return Asset(Markup(text))  # noqa: S704  files of this package


def rendered(template: str, page: object, script: Asset | None = None) -> bytes:
    """Return the HTML that *template* makes of *page*, with *script* or without any."""
    found = page_templates("reedmill.pack.site", "templates").get_template(template)
    return found.render(page=page, style=asset("site.css"), script=script).encode()
