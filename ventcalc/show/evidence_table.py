"""Evidence table: rows of many chapters, each a line high, gathered by chapter and source and chosen by controls."""

from collections.abc import Iterable
from dataclasses import dataclass
from html import escape
from typing import Any

import ipywidgets as widgets

from ventcalc.checked import Check
from ventcalc.show import evidence_line
from ventcalc.show.evidence_line import COMPUTED, KINDS, MEMORY, PUBLISHED
from ventcalc.show.panels import choice, with_static_text

ALL = "all"
VERDICTS = ("to the last digit", "within tolerance", "misses")

_HEADER = ("row", "what, and in which case", "ours", "published", "unit", "difference", "tolerance", "verdict")
_LONGEST = 72  # signs of the case; what is cut off stands in its title
_KIND_WORDS = {
    PUBLISHED: "published",
    MEMORY: "from memory or common practice: to be confirmed, no evidence",
    COMPUTED: "computed: follows from a definition or an equation, no evidence",
}
# A notebook would break the cells' lines and set words flush right.
_CELL = ' style="text-align:left;white-space:nowrap;padding:0 9px 0 0"'


@dataclass(frozen=True)
class Row:
    """A check and the chapter that stands on it."""

    chapter: str
    check: Check

    @property
    def kind(self) -> str:
        """What it is as evidence."""
        return evidence_line.kind(self.check)

    @property
    def verdict(self) -> str:
        """One of `VERDICTS`."""
        return VERDICTS[0] if self.check.to_the_last_digit else VERDICTS[1] if self.check.agrees else VERDICTS[2]


def html(rows: Iterable[Row]) -> str:
    """The rows under their chapter, kind and source, with what the remarks say of them under each source."""
    groups: dict[tuple[str, str, str, str], list[Row]] = {}
    for row in sorted(rows, key=lambda r: (r.chapter, KINDS.index(r.kind))):
        groups.setdefault((row.chapter, row.kind, row.check.source, evidence_line.status(row.check)), []).append(row)
    told, before = [], ("", "")
    for (chapter, kind, source, status), some in groups.items():
        if chapter != before[0]:
            told.append(f"<h3>{escape(chapter)}</h3>")
        if (chapter, kind) != before:
            told.append(f"<p><b>{_KIND_WORDS[kind]}</b></p>")
        before = (chapter, kind)
        told.append(_table(source, status, some))
    return "".join(told) or "<p>No row is like that.</p>"


def _table(source: str, status: str, rows: list[Row]) -> str:
    head = f'<p style="margin:6px 0 0 0">{escape(source)} · <i>{escape(status)}</i></p>'
    cells = "".join(f"<th{_CELL}>{name}</th>" for name in _HEADER)
    return (
        f"{head}<table><thead><tr>{cells}</tr></thead><tbody>{''.join(map(_line, rows))}</tbody></table>{_said(rows)}"
    )


def _line(row: Row) -> str:
    check = row.check
    ours, published, difference = check.printed
    told = evidence_line.case(check)
    shown = told if len(told) <= _LONGEST else f"{told[: _LONGEST - 2]} …"
    title = "" if shown == told else f' title="{escape(told)}"'
    mark = "✘ misses" if row.verdict == VERDICTS[2] else f"✔ {row.verdict}"
    rest = (ours, published, check.unit, difference, check.tolerance, mark)
    cells = "".join(f"<td{_CELL}>{escape(cell)}</td>" for cell in rest)
    return f"<tr><td{_CELL}>{check.id}</td><td{_CELL}{title}>{escape(shown)}</td>{cells}</tr>"


def _said(rows: list[Row]) -> str:
    """What the remarks say of which rows."""
    remarks: dict[str, list[str]] = {}
    for row in rows:
        if row.check.remark:
            remarks.setdefault(row.check.remark, []).append(row.check.id)
    items = "".join(f"<li>{escape(', '.join(ids))}: {escape(words)}</li>" for words, ids in remarks.items())
    return f"<ul>{items}</ul>" if items else ""


def summary(rows: Iterable[Row]) -> str:
    """How many rows there are of each kind, and how many of them miss."""
    told, rows = [], tuple(rows)
    for kind in KINDS:
        some = [r for r in rows if r.kind == kind]
        missing = sum(r.verdict == VERDICTS[2] for r in some)
        told.append(f"{len(some)} {kind}, {len(some) - missing} of them within tolerance")
    return f"<p>{len(rows)} rows: {'; '.join(told)}.</p>"


class Browser(widgets.VBox):
    """The rows with controls that choose among them; begins with those that miss."""

    def __init__(self, rows: Iterable[Row]):
        self.rows = tuple(rows)
        chapters = dict.fromkeys(r.chapter for r in self.rows)
        sources = dict.fromkeys(_short(r.check.source) for r in self.rows)
        statuses = dict.fromkeys(evidence_line.status(r.check) for r in self.rows)
        self.controls = {
            "chapter": choice("Chapter", (ALL, *chapters), ALL),
            "source": choice("Source", (ALL, *sorted(sources)), ALL),
            "status": choice("Status", (ALL, *sorted(statuses)), ALL),
            "verdict": choice("Verdict", (ALL, *VERDICTS), VERDICTS[2]),
        }
        self.table = widgets.HTML()
        self.table.add_class("vc-evidence")
        box = widgets.Box(list(self.controls.values()), layout=widgets.Layout(flex_flow="row wrap"))
        super().__init__([box, self.table])
        for control in self.controls.values():
            control.observe(self.update, names="value")
        self.update()

    def chosen(self) -> tuple[Row, ...]:
        """The rows that the controls let through."""
        asked = {name: control.value for name, control in self.controls.items() if control.value != ALL}
        return tuple(r for r in self.rows if all(_of(r)[name] == value for name, value in asked.items()))

    def update(self, _change: Any = None) -> None:
        """Show the rows that are chosen."""
        chosen = self.chosen()
        self.table.value = summary(chosen) + html(chosen)

    def _repr_mimebundle_(self, **kwargs) -> dict[str, Any]:
        return with_static_text(super()._repr_mimebundle_(**kwargs), "every row", summary(self.rows) + html(self.rows))


def _of(row: Row) -> dict[str, str]:
    """What the controls choose by."""
    check = row.check
    return {
        "chapter": row.chapter,
        "source": _short(check.source),
        "status": evidence_line.status(check),
        "verdict": row.verdict,
    }


def _short(source: str) -> str:
    """A source without the place in it, so that one book is one entry of the list."""
    return source if len(source) <= _LONGEST else f"{source[: _LONGEST - 2]} …"
