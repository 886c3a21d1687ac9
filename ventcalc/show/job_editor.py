"""Job editor: a job file in forms beside its drawing; what is wrong stands by its field, and the verdict is asked for.

It is on the page what `edited_job` is in code: every change is one of its functions. Saving writes a file whole or not
at all, and never over a demo job.
"""

from collections.abc import Callable, Iterable, Mapping
from html import escape
from itertools import groupby
from pathlib import Path
from typing import Any

import ipywidgets as widgets
from tomlkit import TOMLDocument

from ventcalc import tables, words
from ventcalc.job import edited_job, findings, job_file, starting_file
from ventcalc.job.edited_job import Field, Problem
from ventcalc.job.study import Study, study
from ventcalc.show import drawing, finding_records, plots, whole_file
from ventcalc.show.panels import no_picture, paragraph, still, with_static_text
from ventcalc.units import UnitsError

NEW = "a new job"
_HEIGHT = 3.6  # inch of the drawing at most
_TOLD = ("people", "fault")  # weights of the findings that are shown
_WRONG = "vc-wrong"
_STATIC = "The forms are live in JupyterLab: open this chapter there, choose Run, Run All Cells, and change a field."


def demo_jobs() -> Mapping[str, str]:
    """Texts of what may be opened, by the name in the list: the demo jobs, and a new one."""
    found = {path.stem: path.read_text(encoding="utf-8") for path in sorted((tables.DATA / "jobs").glob("*.toml"))}
    return {**found, NEW: starting_file.text()}


def save(text: str, path: str | Path, again: bool = False) -> Path:
    """Write a job file whole or not at all; where it lies. ``again``: over one that is there already.

    Raises ValueError for a name that does not end in .toml, the place of the demo jobs, a folder that is not there.
    """
    target = Path(path).expanduser()
    if target.suffix != ".toml":
        raise ValueError(f"{str(path)!r}: give the file a name that ends in .toml, such as my_job.toml")
    if target.resolve().is_relative_to(tables.DATA.resolve()):
        raise ValueError(f"{target.name}: this is the place of the demo jobs; save it elsewhere")
    if not target.parent.is_dir():
        raise ValueError(f"{target.parent}: no folder is there")
    if target.exists() and not again:
        raise ValueError(f"{target.name} is there already; choose another name")
    whole_file.write(target, text)
    return target


def problems_html(found: Iterable[Problem], remarks: Iterable[str] = ()) -> str:
    """All that is wrong, one below the other; else what the file says and may not mean, or that it reads well."""
    wrong, again = ("".join(f"<li>{escape(s)}</li>" for s in of) for of in ((p.sentence for p in found), remarks))
    if wrong:
        return f"<b>Not yet a job that can be studied:</b><ul>{wrong}</ul>"
    return f"<b>It can be studied; look again at:</b><ul>{again}</ul>" if again else "<b>Reads well.</b>"


def verdict_html(found: Study, system: str) -> str:
    """The verdict of the vent as drawn and of its remedy, and what weighs on people or is a fault as drawn."""
    told = finding_records.verdict(found)
    against = [f for f in found.judgement.findings if f.weight in _TOLD]
    rows = "".join(
        f"<li><b>{f.weight}</b>, {escape(f.title)}: {escape(findings.sentence(f, system))}</li>" for f in against
    )
    remedies = "".join(paragraph(sentence) for sentence in finding_records.remedy_verdicts(told))
    return f"<p><b>{escape(told['sentence'])}</b></p><ul>{rows}</ul>{remedies}"


class JobEditor(widgets.VBox):
    """A list of jobs on top, forms on the left, drawing, problems and verdict on the right, and a line to save by."""

    def __init__(self, first: str, texts: Mapping[str, str] | None = None):
        self.texts = dict(demo_jobs() if texts is None else texts)
        self.document: TOMLDocument = edited_job.opened(self.texts[first])
        self.own: set[Path] = set()  # files that were saved from here, which may be written over
        self.boxes: dict[edited_job.Path, tuple[widgets.Text, widgets.HTML]] = {}
        self.job = widgets.Dropdown(options=list(self.texts), value=first, description="Job")
        self.forms = widgets.Accordion([], layout=widgets.Layout(width="auto", margin="0 4px 0 0"))
        self.picture = widgets.Image(format="png", layout=widgets.Layout(width="100%"))
        self.problems, self.verdict, self.saved = widgets.HTML(), widgets.HTML(), widgets.HTML()
        self.ask = widgets.Button(description="Study", tooltip="solve every firing state and judge it")
        self.name = widgets.Text(value=_offer(first), description="Save as", layout=widgets.Layout(width="300px"))
        self.keep = widgets.Button(description="Save")
        for widget, name in ((self.picture, "vc-picture"), (self.problems, "vc-problems"), (self.verdict, "vc-study")):
            widget.add_class(name)
        left = widgets.VBox([self.forms], layout=widgets.Layout(flex="6 1 0", min_width="0", max_height="560px",
                                                                overflow="auto"))  # fmt: skip
        beside = [self.picture, self.problems, self.ask, self.verdict]
        right = widgets.VBox(beside, layout=widgets.Layout(flex="5 1 0", min_width="0", padding="0 0 0 12px"))
        super().__init__([self.job, widgets.HBox([left, right]), widgets.HBox([self.name, self.keep]), self.saved])
        self.job.observe(self._open, names="value")
        self.ask.on_click(self._study)
        self.keep.on_click(self._save)
        self._lay_out()

    @property
    def text(self) -> str:
        """The text of the file as it stands."""
        return edited_job.text(self.document)

    def change(self, make: Callable[..., TOMLDocument], *arguments: Any) -> None:
        """Change the document by a function of `edited_job`, and lay the forms out anew where rows came or went."""
        try:
            self.document = make(self.document, *arguments)
        except (ValueError, KeyError) as error:
            self.saved.value = paragraph(str(error.args[0]))
            return
        if make is edited_job.with_field:
            self._follow()
        else:
            self._lay_out()

    def _open(self, change: Mapping[str, Any]) -> None:
        self.document, self.name.value = edited_job.opened(self.texts[change["new"]]), _offer(change["new"])
        self._lay_out()

    def _lay_out(self) -> None:
        """All forms anew, the same one open; widgets that are gone are closed."""
        gone, opened_at = self.forms.children, self.forms.selected_index
        self.boxes = {}
        parts = groupby(edited_job.fields(self.document), key=lambda f: f.path[0])
        groups: dict[str, list[Field]] = {}
        for table, fields in parts:
            groups.setdefault(str(table), []).extend(fields)
        self.forms.children = [widgets.VBox(self._form(fields)) for fields in groups.values()]
        self.forms.titles = [table.replace("_", " ") for table in groups]
        self.forms.selected_index = opened_at if opened_at is not None and opened_at < len(groups) else 0
        for one in gone:
            _close(one)
        self._follow()

    def _form(self, fields: Iterable[Field]) -> list[widgets.Widget]:
        rows = []
        for item, of_item in groupby(fields, key=lambda f: f.path[:2] if isinstance(f.path[1], int) else f.path[:1]):
            rows += self._heading(item) if len(item) == 2 else []
            for field in of_item:
                rows.append(self._row(field))
        return rows

    def _heading(self, item: edited_job.Path) -> list[widgets.Widget]:
        kind, number = item
        name = self.document[kind][number].get("name", "")
        label = widgets.HTML(f"<b>{escape(f'{number + 1}. {name}')}</b>")
        return [widgets.HBox([label, *self._changes(item)])] if kind in edited_job.TABLES else [label]

    def _row(self, field: Field) -> widgets.Widget:
        deeper = [k + 1 if isinstance(k, int) else k for k in field.path[1:]]
        label = " ".join(str(k).replace("_", " ") for k in (deeper[1:] if isinstance(field.path[1], int) else deeper))
        usual = field.usual if field.usual and field.usual != "required" else field.example
        box = widgets.Text(
            field.text,
            description=label,
            placeholder=f"left out: {usual}" if usual else "left out",
            tooltip=field.meaning,
            description_allow_html=False,
            continuous_update=False,
            layout=widgets.Layout(width="98%"),
            style={"description_width": "128px"},
        )
        said = widgets.HTML(layout=widgets.Layout(margin="0 0 0 136px", display="none"))
        said.add_class(_WRONG)
        box.observe(lambda c, path=field.path: self.change(edited_job.with_field, path, c["new"].strip()), "value")
        self.boxes[field.path] = box, said
        row = [box, *(self._changes(field.path) if "fittings" in field.path else [])]
        return widgets.VBox([widgets.HBox(row), said])

    def _changes(self, path: edited_job.Path) -> list[widgets.Button]:
        """Buttons to tell an item twice and to take it away."""
        made = []
        for label, make in (("copy", edited_job.with_one_more), ("remove", edited_job.without)):
            button = widgets.Button(description=label, layout=widgets.Layout(width="70px", flex="0 0 auto"))
            button.on_click(lambda _, make=make: self.change(make, path))
            made.append(button)
        return made

    def _follow(self) -> None:
        """Problems and drawing as the document is now; a verdict holds no longer."""
        found = edited_job.problems(self.document)
        self.problems.value, self.verdict.value, self.saved.value = problems_html(found), "", ""
        self.ask.disabled = bool(found)
        for path, (_, said) in self.boxes.items():
            own = [escape(p.sentence) for p in found if p.path == path]
            said.value, said.layout.display = "<br>".join(f"▲ {s}" for s in own), None if own else "none"
        if found:
            self.picture.value = no_picture()
            return
        job = job_file.read(self.text.encode())
        self.problems.value = problems_html((), words.told(job.remarks, job.system))
        sheet = drawing.layout_drawing(job.plant, job.system, tables=False, most_height=_HEIGHT)
        self.picture.value = plots.png(sheet)

    def _study(self, _button: Any = None) -> None:
        self.ask.disabled, self.verdict.value = True, "solving ..."
        try:
            job = job_file.read(self.text.encode())
            self.verdict.value = verdict_html(study(job, told=self._told), job.system)
        except (ValueError, UnitsError) as error:
            self.verdict.value = f"<b>This cannot be solved:</b> {escape(str(error))}"
        finally:
            self.ask.disabled = False

    def _told(self, step: str, share: float) -> None:
        self.verdict.value = f"solving ... {escape(step)}, {share:.0%}"

    def _save(self, _button: Any = None) -> None:
        name = self.name.value.strip()
        try:
            place = save(self.text, name, again=Path(name).expanduser().resolve() in self.own)
        except (ValueError, OSError) as error:
            self.saved.value = paragraph(f"Not saved: {error}")
            return
        self.own.add(place.resolve())
        self.saved.value = paragraph(f"Saved: {place}")

    def _repr_mimebundle_(self, **kwargs) -> dict[str, Any]:
        html = paragraph(_STATIC) + still(self.picture, "the vent as the file draws it") + self.problems.value
        return with_static_text(super()._repr_mimebundle_(**kwargs), "live forms of a job file", html)


def _offer(job: str) -> str:
    return "my_job.toml" if job == NEW else f"my_{job}.toml"


def _close(widget: widgets.Widget) -> None:
    """Close a widget and all that it holds."""
    for child in getattr(widget, "children", ()):
        _close(child)
    widget.close()
