"""Contents: the Parts of the handbook, what one can do after each, a way through it for each reader and each symptom.

The texts stand in ``data/handbook/contents.toml``; the contents page and the README show them.
"""

import json
import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from ventcalc.show.unit_choice import CHAPTERS
from ventcalc.tables import DATA


@dataclass(frozen=True)
class Part:
    """A Part: Roman ``number``, ``folder`` of the library, ``chapters`` by number; what one can do ``after`` it."""

    number: str
    title: str
    folder: str
    chapters: tuple[int, ...]
    after: str


@dataclass(frozen=True)
class Way:
    """The chapters that a reader of one kind takes, in order, and why these."""

    reader: str
    chapters: tuple[int, ...]
    words: str


@dataclass(frozen=True)
class Symptom:
    """What somebody calls about, as a ``sign``, and the chapters that explain it, the likeliest first."""

    sign: str
    chapters: tuple[int, ...]


@cache
def _file() -> dict:
    with (DATA / "handbook" / "contents.toml").open("rb") as file:
        return tomllib.load(file)


def _fields(row: dict) -> dict:
    plain = {name: " ".join(value.split()) for name, value in row.items() if isinstance(value, str)}
    return {**plain, "chapters": tuple(row["chapters"])}


def parts() -> tuple[Part, ...]:
    """The Parts in their order."""
    return tuple(Part(**_fields(row)) for row in _file()["part"])


def ways() -> tuple[Way, ...]:
    """A way through for each kind of reader."""
    return tuple(Way(**_fields(row)) for row in _file()["way"])


def symptoms() -> tuple[Symptom, ...]:
    """What people call about."""
    return tuple(Symptom(**_fields(row)) for row in _file()["symptom"])


_NO_CHAPTERS = {"00_contents", "00_evidence"}


@cache
def chapters() -> dict[int, Path]:
    """The file of every chapter by its number; 0 is the quick checks."""
    return {int(path.stem[:2]): path for path in sorted(CHAPTERS.glob("*.ipynb")) if path.stem not in _NO_CHAPTERS}


@cache
def _beginning(number: int) -> str:
    """The first cell of a chapter."""
    return "".join(json.loads(chapters()[number].read_text(encoding="utf-8"))["cells"][0]["source"])


def title(number: int) -> str:
    """A chapter's title: the first line of its file, without number."""
    return _beginning(number).splitlines()[0].lstrip("# ").split(" · ")[-1]


def question(number: int) -> str:
    """What its caller asks, in the caller's words; "" where nobody calls."""
    quoted = [line.lstrip("> ") for line in _beginning(number).splitlines() if line.startswith(">")]
    return " ".join(quoted).strip()


def _link(number: int) -> str:
    return f"{number:02d} [{title(number)}]({chapters()[number].name})"


def by_part() -> str:
    """Markdown: every chapter under its Part, and what one can do after it."""
    told = [f"{_link(0)}: one number in a minute, from any Part."]
    for part in parts():
        told.append(f"**Part {part.number} · {part.title}.** {part.after}")
        told.append("\n".join(f"- {_link(n)}: *{question(n)}*" for n in part.chapters))
    told.append("[Evidence](00_evidence.ipynb): every number that the chapters were checked against.")
    return "\n\n".join(told)


def by_symptom() -> str:
    """Markdown: what people call about, and the chapters that explain it."""
    return "\n".join(f"- **{s.sign}**: {', '.join(map(_link, s.chapters))}." for s in symptoms())


def by_reader() -> str:
    """Markdown: the way through the handbook for each kind of reader."""
    return "\n".join(f"- **{way.reader}**: {', '.join(map(_link, way.chapters))}. {way.words}" for way in ways())
