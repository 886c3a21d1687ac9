"""Worked sheet: a calculation line by line with mistakes planted in it, for a class to find, and the key to it.

``data/handbook/mistakes.toml`` has a table ``[[sheet]]`` for each: its ``name``, ``part``, ``title``, ``minutes``, the
``plant`` in words, what is ``given``, what is said where the last figure, ``left``, ``holds`` and where it ``fails``,
and its lines ``[[sheet.line]]``: the ``name`` of what one works, what it ``says``; where it is wrong ``mistake``, why
it is, and ``shows``, its figure for the key.

A line is worked by a function of its name, from what is given and what the lines before it printed; a planted mistake
by another function. So each line follows from those above it, wrong or right, as on a sheet that somebody worked by
hand; the key works the lines again without the mistakes.
"""

import tomllib
from collections.abc import Callable, Mapping, Set
from dataclasses import dataclass
from functools import cache
from inspect import signature
from pathlib import Path
from typing import Any

from ventcalc.show import chapter_texts, page, whole_file
from ventcalc.tables import DATA
from ventcalc.units import Quantity, show, ureg

LEFT = "left"  # the figure that each sheet comes to: what is to spare
SHEETS, KEY = "mistakes.html", "mistakes_key.html"

Work = Callable[..., Any]


@dataclass(frozen=True)
class Line:
    """One line of a sheet; ``slip`` is what was done instead where it is wrong, ``mistake`` why that is wrong, and
    ``shows`` its figure."""

    name: str
    says: Mapping[str, str] | str
    work: Work
    slip: Work | None = None
    mistake: str = ""
    shows: str = ""


@dataclass(frozen=True)
class Sheet:
    """A worked calculation of an invented plant."""

    name: str
    part: str
    title: str
    minutes: int
    plant: Mapping[str, str] | str
    given: Mapping[str, Any]
    lines: tuple[Line, ...]
    holds: str
    fails: str

    @property
    def planted(self) -> frozenset[str]:
        """Names of the lines with a mistake in them."""
        return frozenset(line.name for line in self.lines if line.slip)


@dataclass(frozen=True)
class Found:
    """A mistake of a sheet: the ``number`` of its line, why, what is ``printed`` and what is ``right`` there, and
    what the sheet comes to as printed (``end``) and with this alone mended."""

    number: int
    why: str
    printed: str
    right: str
    end: str
    mended: str


@cache
def rows() -> tuple[Mapping[str, Any], ...]:
    """The sheets as the file has them."""
    with (DATA / "handbook" / "mistakes.toml").open("rb") as file:
        return tuple(tomllib.load(file)["sheet"])


def sheet(row: Mapping[str, Any], work: Mapping[str, Work], slips: Mapping[str, Work]) -> Sheet:
    """A sheet from its table, the functions of its lines and those of its mistakes, by the names of the lines.

    Raises ValueError where a mistake has no reason or a reason no mistake, and for unknown or lacking keys.
    """
    where = f"mistakes.toml, {row.get('name')}"
    keys = {"name", "part", "title", "minutes", "plant", "given", "line", "holds", "fails"}
    chapter_texts.refuse_keys(where, row, keys, set())
    reasons = {line["name"] for line in row["line"] if "mistake" in line}
    if reasons != set(slips):
        raise ValueError(f"{where}: mistakes {sorted(slips)}, reasons for {sorted(reasons)}")
    lines = (Line(**one, work=work[one["name"]], slip=slips.get(one["name"])) for one in row["line"])
    given = {name: chapter_texts.plain(value) for name, value in row["given"].items()}
    rest = {key: row[key] for key in ("name", "part", "title", "minutes", "plant", "holds", "fails")}
    return Sheet(given=given, lines=tuple(lines), **rest)


def worked(of: Sheet, system: str, planted: Set[str] | None = None) -> dict[str, Any]:
    """All figures of a sheet, with the mistakes ``planted`` in the lines of these names; left out, all of them."""
    figures: dict[str, Any] = dict(of.given)
    for line in of.lines:
        wrong = line.slip and line.name in (of.planted if planted is None else planted)
        figures |= one_line(line, figures, system, slip=bool(wrong))
    return figures


def one_line(line: Line, figures: Mapping[str, Any], system: str, slip: bool = False) -> dict[str, Any]:
    """What a line works from the figures before it, by name."""
    known = {**figures, "system": system}
    work = line.slip if slip else line.work
    value = work(**{name: known[name] for name in signature(work).parameters})
    return dict(value) if isinstance(value, Mapping) else {line.name: value}


def verdict(of: Sheet, figures: Mapping[str, Any], system: str) -> str:
    """What the sheet concludes from what is left."""
    return chapter_texts.text(of.holds if figures[LEFT] >= 0 else of.fails, figures, system)


def found(of: Sheet, system: str) -> tuple[Found, ...]:
    """Every mistake of a sheet, in its order."""
    printed = worked(of, system)
    return tuple(
        _found(of, number, line, printed, system) for number, line in enumerate(of.lines, 1) if line.slip is not None
    )


def _found(of: Sheet, number: int, line: Line, printed: Mapping[str, Any], system: str) -> Found:
    right = one_line(line, printed, system)
    mended = worked(of, system, of.planted - {line.name})
    text = chapter_texts.text
    return Found(
        number,
        text(line.mistake, {**printed, **{f"right_{name}": value for name, value in right.items()}}, system),
        text(line.shows, printed, system),
        text(line.shows, {**printed, **right}, system),
        *(_told(figures[LEFT], system) for figures in (printed, mended)),
    )


def _told(left: Quantity, system: str) -> str:
    return f"{left.m:.1f} ppm" if left.units == ureg.ppm else show(left, system)


def record(of: Sheet, system: str, key: bool) -> dict[str, Any]:
    """A sheet for the page; with what is wrong in it where it is the ``key``."""
    printed, right = worked(of, system), worked(of, system, frozenset())
    text = chapter_texts.text
    return {
        "title": of.title,
        "part": of.part,
        "minutes": of.minutes,
        "count": len(of.planted),
        "plant": text(of.plant, printed, system),
        "lines": [text(line.says, printed, system) for line in of.lines],
        "verdict": verdict(of, printed, system),
        "found": found(of, system) if key else (),
        "mended": verdict(of, right, system) if key else "",
    }


def html(sheets: tuple[Sheet, ...], system: str, key: bool) -> str:
    """All sheets on one page, each to a page of paper, or the key to them."""
    told = {"sheets": [record(of, system, key) for of in sheets], "system": system, "key": key}
    return page.TEMPLATES.get_template("mistakes.html").render(r=told)


def write(sheets: tuple[Sheet, ...], system: str, out_dir: str | Path, key: bool) -> Path:
    """Write the sheets, or the ``key`` to them, into a folder; the file. OSError where that cannot be."""
    name = KEY if key else SHEETS
    return whole_file.write_into(out_dir, {name: html(sheets, system, key)}) / name
