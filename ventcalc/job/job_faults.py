"""Job faults: what is wrong with a job file, each fault in a sentence with its place and its remedy."""

import difflib
import re
from collections.abc import Mapping, Sequence
from copy import deepcopy
from types import UnionType
from typing import Annotated, Any, Union, get_args, get_origin

from ventcalc.job import repeated
from ventcalc.job.job_fields import NAME, Form
from ventcalc.job.job_form import File
from ventcalc.job.job_keys import meaning
from ventcalc.units import UnitsError
from ventcalc.words import listed


class JobError(ValueError):
    """A job file that cannot be used; ``problems`` holds one sentence a fault, each with its place."""

    def __init__(self, problems: list[str]):
        super().__init__("\n".join(problems))
        self.problems = problems


# Keys that hold several values, and how they are written.
_IN_BRACKETS = {
    "window": '["-0.05 inH2O", "-0.01 inH2O"]',
    "purge_pressure": '["-0.05 inH2O", "0.10 inH2O"]',
    "fittings": '["elbow 90", "elbow 45"]',
    "named_materials": '["PVC pipe"]',
}


def explain(error, content) -> str:
    """One pydantic error as a sentence: place, what was found, what is valid."""
    where, kind = place(error["loc"], content), error["type"]
    if kind == "extra_forbidden":
        known = _known_keys(error["loc"][:-1])
        close = difflib.get_close_matches(str(error["loc"][-1]), known, 1)
        hint = f"did you mean {close[0]!r}?" if close else f"known keys are {', '.join(known)}"
        return f"{where}: unknown key; {hint}"
    if kind == "missing":
        return f"{where}: missing; it is required{_meaning(error['loc'])}"
    if kind == "value_error":
        return f"{where}: {error['ctx']['error']}"
    found = "" if isinstance(error["input"], dict | list) else f", found {error['input']!r}"
    if kind == "list_type" and error["loc"][-1] in _IN_BRACKETS:
        return f"{where}: write it in brackets, such as {_IN_BRACKETS[error['loc'][-1]]}{found}"
    if kind in ("list_type", "model_type") and _known_keys(error["loc"]):
        return f"{where}: {_table(kind, error['loc'])}{found}"
    return f"{where}: {error['msg'][0].lower()}{error['msg'][1:]}{found}"


def _table(kind: str, location) -> str:
    """How a table is written whose brackets, or whose keys, are missing."""
    path = ".".join(key for key in location if isinstance(key, str))
    if kind == "list_type":
        return f"there may be several: write each in double brackets, [[{path}]]"
    if len(location) == 1:
        return f"there is one: write it in single brackets, [{path}]"
    needed = [k for k, field in _form_at(location).model_fields.items() if field.is_required()]
    return f"write it with its keys, such as {location[-1]} = {{ {', '.join(f'{k} = ...' for k in needed)} }}"


def place(location, content) -> str:
    """A key path such as ``appliance[2] "Boiler 2".level[1].input``, with the names that the file gives."""
    shown, here = "", content
    for key in location:
        if isinstance(key, int):
            here = here[key] if isinstance(here, list) and key < len(here) else None
            label = here.get("name") if isinstance(here, dict) else None
            shown += f"[{key + 1}]" + (f' "{label[:60]}"' if isinstance(label, str) and NAME.fullmatch(label) else "")
        else:
            here = here.get(key) if isinstance(here, dict) else None
            shown += f".{key}" if shown else str(key)
    return shown


def _form_at(location) -> type[Form] | None:
    """The form of a place."""
    form = File
    for key in location:
        if isinstance(key, str) and form is not None and key in form.model_fields:
            form = _form_of(form.model_fields[key].annotation)
    return form


def _meaning(location) -> str:
    """What a key means, behind a colon."""
    form, key = _form_at(location[:-1]), location[-1]
    return f": {meaning(form, key)}" if form is not None and key in form.model_fields else ""


def _known_keys(location) -> list[str]:
    """Keys that the form knows at a place."""
    form = _form_at(location)
    counted = repeated.KEYS.get(location[0], ()) if len(location) == 2 else ()
    return sorted((*form.model_fields, *counted)) if form else []


def _form_of(annotation) -> type[Form] | None:
    if get_origin(annotation) in (list, Union, UnionType, Annotated):
        return next((f for a in get_args(annotation) if (f := _form_of(a))), None)
    return annotation if isinstance(annotation, type) and issubclass(annotation, Form) else None


_NEUTRAL = {"job": {"name": "job"}, "site": {"altitude": "0 m"}}  # tables that a file must have, where theirs is wrong


def sound_part(content: dict[str, Any], errors: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """What is left of a file without what pydantic refused: unknown keys, and entries and tables that are wrong."""
    left = deepcopy(content)
    for error in sorted(errors, key=lambda e: e["type"] != "extra_forbidden"):  # a key is gone before its entry
        table, *rest = error["loc"]
        if error["type"] == "extra_forbidden":
            here = left
            for key in error["loc"][:-1]:
                here = here[key]
            del here[error["loc"][-1]]
        elif rest and isinstance(rest[0], int):
            left[table][rest[0]] = None
        elif table in _NEUTRAL:
            left[table] = _NEUTRAL[table]
        else:
            left.pop(table, None)
    return {
        key: [entry for entry in value if entry is not None] if isinstance(value, list) else value
        for key, value in left.items()
    }


_OF_ENTRY = re.compile(r'(\w+) ("[^"]*"): (.*)', re.DOTALL)  # a fault of one entry of a table
_OWN = ("name", "into")  # what each of a row has for itself


def _told_once(problems: Sequence[str]) -> list[str]:
    """The same fault of several entries in one sentence: `section "a", "b" and "c": ...`."""
    places: dict[tuple[str, str], list[str]] = {}
    for problem in problems:
        kind, name, fault = _OF_ENTRY.fullmatch(problem).groups() if _OF_ENTRY.fullmatch(problem) else ("", "", problem)
        places.setdefault((kind, fault), []).append(name)
    told = []
    for (kind, fault), names in places.items():
        names = list(dict.fromkeys(names))
        told.append(f"{kind} {listed(tuple(names))}: {fault}" if kind else fault)
    return told


class Faults:
    """Collects what the parts of the library refuse, each with its place."""

    def __init__(self):
        self.problems: list[str] = []

    def guard(self, place: str, make, *arguments):
        """What ``make`` gives, or None after noting why it refused."""
        try:
            return make(*arguments)
        except (ValueError, UnitsError) as error:
            self.problems.append(f"{place}: {error}")
            return None

    def each(self, kind: str, forms: Sequence[Form], make, *arguments) -> list:
        """What ``make`` gives of each form; of forms alike but for their names, what it refuses is noted once."""
        found, refused = [], []
        for form in forms:
            plain = form.model_copy(update=dict.fromkeys(_OWN, ""))
            if plain in refused:
                found.append(None)
                continue
            noted = len(self.problems)
            found.append(self.guard(f'{kind} "{form.name}"', make, form, *arguments))
            if len(self.problems) > noted:
                refused.append(plain)
        return found

    def stop_if_any(self) -> None:
        """Raises `JobError` with everything noted so far."""
        if self.problems:
            raise JobError(_told_once(self.problems))
