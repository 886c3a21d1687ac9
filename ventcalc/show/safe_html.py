"""Safe HTML: what others wrote, as a page that is handed out may hold it: nothing that runs, nothing that fetches.

By a list of what is allowed, ``data/show/safe_html.toml``, and a sanitizer that others keep (nh3, which is Ammonia).
"""

import re
import tomllib
from functools import cache

import nh3

from ventcalc import tables

_FETCHES = re.compile(r"url\s*\(|expression|@import|\\", re.IGNORECASE)  # in a style; a backslash may hide any of them


def safe(html: str) -> str:
    """HTML without scripts, frames, forms, handlers, styles that fetch, and pictures that are not inside it."""
    tags, attributes = _allowed()
    return nh3.clean(
        html,
        tags=set(tags),
        attributes=attributes,
        url_schemes={"http", "https", "data"},
        attribute_filter=_kept,
        link_rel="noopener noreferrer",
    )


@cache
def _allowed() -> tuple[frozenset[str], dict[str, set[str]]]:
    found = tomllib.loads((tables.DATA / "show" / "safe_html.toml").read_text(encoding="utf-8"))
    more, mathml, svg = (found[name].split() for name in ("more", "mathml", "svg"))
    of = {name: set(text.split()) for name, text in found["attributes"].items()}
    kinds = {"mathml": mathml, "svg": svg}
    own = {tag: of[kind] for kind, its in kinds.items() for tag in its}
    return frozenset({*nh3.ALLOWED_TAGS, *more, *mathml, *svg}), own | {k: v for k, v in of.items() if k not in kinds}


def _kept(tag: str, attribute: str, value: str) -> str | None:
    """An attribute's value, None for one that would fetch something."""
    if attribute == "src":
        return value if value.startswith("data:image/") else None
    if attribute == "href":
        return None if value.startswith("data:") else value
    return None if attribute == "style" and _FETCHES.search(value) else value
