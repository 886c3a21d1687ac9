"""Changes: what changed since an earlier revision of the same job, from its ``results.json``.

Keys of the job file with what they were and are, figures that a reader of the report decides by, and findings that are
gone or new. Two runs of one file differ in nothing.
"""

import json
import math
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from ventcalc.words import say

SAME = 1e-6  # of a number: less is rounding, not a change
NONE = "–"


class Unlike(ValueError):
    """Results that nothing can be compared with; the message says why."""


def read(path: str | Path, name: str, project: str = "") -> dict[str, Any]:
    """The results of an earlier revision of a job of that name or, where told, of that project.

    Raises `Unlike` for a file that cannot be read, that is no results.json, or that is of another job.
    """
    path = Path(path)
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
        job, schema = found["job"], found["schema"]
        old, text = (job["name"], job.get("document", {}).get("project", "")), job["text"]
        tomllib.loads(text)
        list(_figures(found))
    except OSError as error:
        raise Unlike(f"{path}: cannot be read ({error.strerror}); give the results.json of an earlier study") from None
    except (ValueError, KeyError, TypeError, AttributeError, IndexError):
        raise Unlike(f"{path}: is no results.json of a study by this library") from None
    if schema != 1:
        raise Unlike(f"{path}: results of schema {schema}; this library compares those of schema 1")
    if old[0] != name and not (project and project == old[1]):
        raise Unlike(f"{path}: results of the job {old[0]!r}; this one is {name!r}, and no project number joins them")
    return found


def changes(old: Mapping[str, Any], new: Mapping[str, Any]) -> dict[str, Any]:
    """What changed from the results of one revision to those of the next.

    ``since`` (date, revision, version, sha256 of the earlier one), ``keys`` and ``figures`` (``what``, ``old``,
    ``new``), titles of findings ``gone`` and ``added``, each with its design.
    """
    before, now = (dict(_findings(found)) for found in (old, new))
    return {
        "since": {
            "date": old.get("date", ""),
            "version": old.get("version", ""),
            "revision": old["job"].get("document", {}).get("revision", ""),
            "sha256": old["job"].get("sha256", ""),
        },
        "keys": list(_differences(*(dict(_keys(tomllib.loads(found["job"]["text"]))) for found in (old, new)))),
        "figures": list(_changed_figures(old, new)),
        "gone": [title for code, title in before.items() if code not in now],
        "added": [title for code, title in now.items() if code not in before],
    }


def sentences(told: Mapping[str, Any]) -> list[str]:
    """The changes in a few lines, for the screen."""
    rows = [
        say("show", "changes", "row", what=row["what"], old=row["old"], new=row["new"])
        for row in (*told["keys"], *told["figures"])
    ]
    return [*rows, *(say("show", "changes", name, title=title) for name in ("gone", "added") for title in told[name])]


def _differences(old: Mapping[str, str], new: Mapping[str, str]) -> Iterator[dict[str, str]]:
    for what in dict.fromkeys((*old, *new)):
        if old.get(what) != new.get(what):
            yield {"what": what, "old": old.get(what, NONE), "new": new.get(what, NONE)}


def _keys(table: Mapping[str, Any], path: str = "") -> Iterator[tuple[str, str]]:
    """Every key of a job file by its place, entries of a list by their names."""
    for key, value in table.items():
        place = f"{path}.{key}" if path else key
        if isinstance(value, Mapping):
            yield from _keys(value, place)
        elif isinstance(value, Sequence) and not isinstance(value, str) and value and isinstance(value[0], Mapping):
            for k, entry in enumerate(value, 1):
                yield from _keys(entry, f"{place} {json.dumps(entry['name']) if 'name' in entry else k}")
        else:
            yield place, value if isinstance(value, str) else json.dumps(value, default=str, ensure_ascii=False)


def _figures(found: Mapping[str, Any]) -> Iterator[tuple[str, Any]]:
    """What a reader decides by: a number with its unit, or a text."""
    yield "verdict", found["verdict"]["sentence"]
    yield "conditions solved", f"{found['scan']['solved']:,}"
    for o in found["outlets"]:
        for end in ("low", "high", "margin"):
            yield f"as drawn, outlet of {o['appliance']}, {end}", o[end]
    proposed = found["offered"]
    yield "remedy proposed", proposed["name"] if proposed else NONE
    if not proposed or proposed.get("impossible"):
        return
    yield "with it", proposed["verdict"]["sentence"]
    yield "set point", found["header"]["set_point"]
    for o in proposed["outlets"]:
        yield f"with the remedy, outlet of {o['appliance']}, margin", o["margin"]
    for row in proposed["sheet"]:
        if row["kind"] == "set":
            yield f"start-up sheet, {row['name']}", row["value"]


def _changed_figures(old: Mapping[str, Any], new: Mapping[str, Any]) -> Iterator[dict[str, str]]:
    before, now = dict(_figures(old)), dict(_figures(new))
    for what in dict.fromkeys((*before, *now)):
        one, other = before.get(what, NONE), now.get(what, NONE)
        if not _same(one, other):
            yield {"what": what, "old": _told(one), "new": _told(other)}


def _same(one: Any, other: Any) -> bool:
    if isinstance(one, Mapping) and isinstance(other, Mapping):
        values = one["value"], other["value"]
        if None in values:
            return values == (None, None)
        return math.isclose(*values, rel_tol=SAME, abs_tol=SAME)
    return one == other


def _told(value: Any) -> str:
    return value["shown"] if isinstance(value, Mapping) else str(value)


def _findings(found: Mapping[str, Any]) -> Iterator[tuple[tuple, str]]:
    """What was found of each design, by design, code and whom it is about, with its title."""
    offered = found["offered"]
    designs = {"as drawn": found["findings"]}
    if offered and not offered.get("impossible"):
        designs["with the remedy"] = offered["findings"]
    for design, own in designs.items():
        for f in own:
            about = f": {', '.join(f['subjects'])}" if f["subjects"] else ""
            yield (design, f["code"], *f["subjects"]), f"{design}: {f['title']}{about}"
