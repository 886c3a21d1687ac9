"""Lesson: what a trainer says of a chapter, at which heading and for how long, and where the live panel is set.

``data/handbook/<chapter>.toml`` has a table ``[teach]``:

- ``read``: what is read off the panel's tables at each setting: how its row begins ("": any) and its column; a column
  left out is the first behind the row's name;
- ``[[teach.setting]]``, three of them: what it ``shows``, and ``set``, values of controls by their names. A quantity
  goes to the nearest that the control has, so that one text serves both unit systems; the other controls stay;
- ``[[teach.part]]``: the heading ``at`` which it begins, without its marks, ``minutes``, what to ``ask`` the class,
  what people usually get ``wrong``, what to ``answer``, what to draw on the ``board``. It lasts until the next begins.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from ventcalc.show import chapter_texts

SETTINGS = 3
LONGEST = 45  # minutes of one part: a class does not listen longer


@dataclass(frozen=True)
class Part:
    """What is said from the heading ``at`` on: ``minutes`` of it, a question, the usual error, the answer, a sketch."""

    at: str
    minutes: int
    ask: str
    wrong: str
    answer: str
    board: str = ""


@dataclass(frozen=True)
class Setting:
    """Where the panel is ``set``, by the names of its controls, and what that ``shows``."""

    shows: str
    set: Mapping[str, Any]


@dataclass(frozen=True)
class Lesson:
    """A chapter in front of a class: its parts in order, three settings of its panel, and what is ``read`` there."""

    parts: tuple[Part, ...]
    settings: tuple[Setting, ...]
    read: tuple[str, str]

    @property
    def minutes(self) -> int:
        """How long the chapter takes."""
        return sum(part.minutes for part in self.parts)


def load(chapter: str) -> Lesson:
    """The lesson of a chapter. Raises ValueError where a key is lacking or unknown, or a part takes no time."""
    where, row = f"{chapter}.toml, teach", chapter_texts.read(chapter).get("teach", {})
    chapter_texts.refuse_keys(where, row, {"read", "setting", "part"}, set())
    for setting in row["setting"]:
        chapter_texts.refuse_keys(f"{where}, setting", setting, {"shows", "set"}, set())
    for part in row["part"]:
        chapter_texts.refuse_keys(f"{where}, part", part, {"at", "minutes", "ask", "wrong", "answer"}, {"board"})
        if not 0 < part["minutes"] <= LONGEST:
            raise ValueError(f"{where}, part {part['at']!r}: {part['minutes']} minutes; give 1 to {LONGEST}")
    if len(row["setting"]) != SETTINGS:
        raise ValueError(f"{where}: {len(row['setting'])} settings; give {SETTINGS}")
    read = (*row["read"], "")[:2]
    return Lesson(
        tuple(Part(**_plain(part)) for part in row["part"]),
        tuple(Setting(" ".join(s["shows"].split()), dict(s["set"])) for s in row["setting"]),
        read,
    )


def _plain(row: Mapping[str, Any]) -> dict[str, Any]:
    return {key: " ".join(value.split()) if isinstance(value, str) else value for key, value in row.items()}
