"""Lessons: the chapters as slides for a class, with the trainer's notes and each live panel at three settings."""

from collections.abc import Callable
from functools import cache
from importlib import import_module
from pathlib import Path

from ventcalc.handbook import common_vent, firing_states, remedy_reach, study, writing_a_job
from ventcalc.show import handout, lesson, page, panel_settings, whole_file
from ventcalc.show.handout import Teaching
from ventcalc.show.panels import Panel

# Those whose first live panel is not the `explorer` of their own module.
_PANELS: dict[str, Callable[[str], Panel]] = {
    "common_vent": common_vent.two_explorer,
    "firing_states": firing_states.hall_explorer,
    "remedies": remedy_reach.explorer,
    "writing_a_job": writing_a_job.typed_explorer,
    "study": lambda system: study.explorer(system).panel,
}


def chapters() -> tuple[str, ...]:
    """Files of the chapters that have a lesson, by name: all but the pages numbered 00."""
    return tuple(name for name in handout.chapters() if not name.startswith("00"))


def subject(name: str) -> str:
    """The subject of a chapter's file: "stack_effect" of "06_stack_effect"."""
    return name.partition("_")[2]


def of(name: str) -> lesson.Lesson:
    """The lesson of a chapter by the name of its file."""
    return lesson.load(subject(name))


@cache
def panel(name: str, system: str) -> Panel:
    """The first live panel of a chapter, in one unit system."""
    made = _PANELS.get(subject(name)) or import_module(f"ventcalc.handbook.{subject(name)}").explorer
    return made(system)


def teaching(name: str, system: str) -> Teaching:
    """What the slides of a chapter have beside the chapter itself."""
    found = of(name)
    return Teaching(found.parts, panel_settings.html(panel(name, system), found))


def write(chapter: str, system: str, out_dir: str | Path = ".") -> Path:
    """Write the slides of a chapter: with notes and settings where it has a lesson. Errors as `handout.write`."""
    name = handout.find(chapter).stem
    taught = teaching(name, system) if name in chapters() else None
    return handout.write(chapter, "slides", out_dir, taught)


def write_notes(chapter: str, system: str, out_dir: str | Path = ".") -> Path:
    """Write the trainer's notes to a chapter as a page to be printed. Raises `HandoutError` where it has none."""
    source = handout.find(chapter)
    if source.stem not in chapters():
        raise handout.HandoutError(f"{source.stem} has no notes; choose a chapter from 01 on")
    told = {"title": handout.title(handout.read(source)), "lesson": of(source.stem), "system": system}
    file = f"{source.stem}_notes.html"
    return whole_file.write_into(out_dir, {file: page.TEMPLATES.get_template("notes.html").render(r=told)}) / file
