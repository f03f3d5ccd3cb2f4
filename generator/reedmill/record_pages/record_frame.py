"""The frame of every page of a record book: templates that escape all, one style, no script.

The policy of a page names its style by digest and lets in nothing else: no script, no picture
and no connection.  Names of students and titles of drills come in as ``str`` and every letter of
them is escaped; the style alone is let through as it is, because we wrote it.
"""

from __future__ import annotations

from base64 import b64encode
from functools import cache
from hashlib import sha256
from importlib.resources import files as package_files
from typing import TYPE_CHECKING

from markupsafe import Markup

if TYPE_CHECKING:
    from jinja2 import Environment


def record_html(template: str, page: object) -> bytes:
    """Return the HTML that *template* makes of *page*, in UTF-8."""
    style = _style()
    digest = "sha256-" + b64encode(sha256(style.encode()).digest()).decode()  # CSP 3, 6.7.2.3
    found = _environment().get_template(template)
    return found.render(page=page, style=style, style_digest=digest).encode()


@cache
def _style() -> Markup:
    text = (package_files("reedmill.record_pages") / "assets" / "record.css").read_text("utf-8")
    return Markup(text)  # noqa: S704  a file of this package


@cache
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    return Environment(
        loader=PackageLoader("reedmill.record_pages", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        auto_reload=False,
    )
