"""Templates of pages for a browser, in which every value is escaped, and what a policy lets in.

Foreign text comes in as ``str`` and every letter of it is escaped; a name that a template asks
for and nobody gives is an error.
"""

from __future__ import annotations

from base64 import b64encode
from functools import cache
from hashlib import sha256
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from jinja2 import Environment


@cache
def page_templates(package: str, folder: str, *, last_newline: bool = True) -> Environment:
    """Return the templates in *folder* of *package*, with or without the newline at their end."""
    from jinja2 import Environment, PackageLoader, StrictUndefined  # only pages need it

    return Environment(
        loader=PackageLoader(package, folder),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=last_newline,
        auto_reload=False,
    )


def policy_digest(text: str) -> str:
    """Return what a Content Security Policy lets a style or script by (W3C, Level 3, 6.7.2.3)."""
    return "sha256-" + b64encode(sha256(text.encode()).digest()).decode()
