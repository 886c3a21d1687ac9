"""Remark: what is said of a device or a place, as the name of a sentence and its figures, apart from the words.

The sentences stand in ``data/draft/words.toml``; nothing is decided by reading one.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from ventcalc.words import say


@dataclass(frozen=True)
class Remark:
    """Sentence ``code`` of a ``subject`` of the words of draft, with its ``figures`` by name."""

    subject: str
    code: str
    figures: Mapping[str, Any] = field(default_factory=dict)

    def words(self, system: str = "US") -> str:
        """The sentence in "US" or "SI" units; KeyError where there is none, or a figure is missing."""
        return say("draft", self.subject, self.code, system, **self.figures)


def told(remarks: tuple[Remark, ...], system: str = "US") -> tuple[str, ...]:
    """The sentences of remarks, in their order."""
    return tuple(remark.words(system) for remark in remarks)
