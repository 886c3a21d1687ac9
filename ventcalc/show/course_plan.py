"""Course: the plan of two days in front of a class, item by item, with the clock.

``data/handbook/course.toml`` tells the order and when each day begins and ends; how long a chapter or a sheet takes
stands with the chapter and with the sheet, so that the plan follows when a lesson grows.
"""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from ventcalc.show import contents, lesson, page, whole_file, worked_sheet
from ventcalc.tables import DATA

PLAN = "plan.html"


@dataclass(frozen=True)
class Item:
    """From ``begins`` [minutes after midnight] for so many ``minutes``: ``what``, of a ``chapter`` or none (0)."""

    begins: int
    minutes: int
    what: str
    chapter: int = 0


@dataclass(frozen=True)
class Day:
    """A day of the course; it is to end at ``ends`` [minutes after midnight]."""

    title: str
    items: tuple[Item, ...]
    ends: int


@cache
def _file() -> Mapping[str, Any]:
    with (DATA / "handbook" / "course.toml").open("rb") as file:
        return tomllib.load(file)


def days() -> tuple[Day, ...]:
    """The days of the course. Raises ValueError where one does not end when it should, KeyError for an unknown name."""
    return tuple(_day(row) for row in _file()["day"])


def _day(row: Mapping[str, Any]) -> Day:
    now, items = _minutes(row["begins"]), []
    for told in row["item"]:
        item = _item(told, now)
        items.append(item)
        now += item.minutes
    if now != _minutes(row["ends"]):
        raise ValueError(f"{row['title']}: ends at {clock(now)}, to end at {row['ends']}")
    return Day(row["title"], tuple(items), now)


def _item(told: Mapping[str, Any], now: int) -> Item:
    if "chapter" in told:
        number = told["chapter"]
        subject = contents.chapters()[number].stem.partition("_")[2]
        return Item(now, lesson.load(subject).minutes, f"{number:02d} · {contents.title(number)}", number)
    if "sheet" in told:
        sheet = {row["name"]: row for row in worked_sheet.rows()}[told["sheet"]]
        return Item(now, sheet["minutes"], f"Spot the mistake, Part {sheet['part']}: {sheet['title']}")
    return Item(now, told["minutes"], told["what"])


def _minutes(time: str) -> int:
    hours, minutes = time.split(":")
    return 60 * int(hours) + int(minutes)


def clock(minutes: int) -> str:
    """A time of day: "08:30"."""
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def in_words(of: Sequence[Day]) -> str:
    """The plan as plain text, a line an item."""
    lines = [_file()["title"], _file()["people"]]
    for number, day in enumerate(of, 1):
        lines += ["", f"Day {number}: {day.title}"]
        lines += [f"{clock(item.begins)}  {item.minutes:3d} min  {item.what}" for item in day.items]
        lines.append(f"{clock(day.ends)}  end")
    return "\n".join(lines)


def html(of: Sequence[Day], system: str) -> str:
    """The plan as a page to be printed."""
    told = {"title": _file()["title"], "people": _file()["people"], "days": of, "clock": clock, "system": system}
    return page.TEMPLATES.get_template("plan.html").render(r=told)


def write(system: str, out_dir: str | Path) -> Path:
    """Write the plan into a folder; its file. OSError where that cannot be."""
    return whole_file.write_into(out_dir, {PLAN: html(days(), system)}) / PLAN
