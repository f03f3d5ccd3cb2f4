"""The frame of every page of a record book: templates that escape all, one style, no script.

The policy of a page names its style by digest and lets in nothing else: no script, no picture
and no connection.  Names of students and titles of drills come in as ``str`` and every letter of
them is escaped; the style alone is let through as it is, because we wrote it.
"""

from __future__ import annotations

from functools import cache
from importlib.resources import files as package_files

from markupsafe import Markup

from reedmill.base.page_templates import page_templates, policy_digest


def record_html(template: str, page: object) -> bytes:
    """Return the HTML that *template* makes of *page*, in UTF-8."""
    style = _style()
    found = page_templates("reedmill.record_pages", "templates").get_template(template)
    return found.render(page=page, style=style, style_digest=policy_digest(style)).encode()


@cache
def _style() -> Markup:
    text = (package_files("reedmill.record_pages") / "assets" / "record.css").read_text("utf-8")
    return Markup(text)  # noqa: S704  a file of this package
