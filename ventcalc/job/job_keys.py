"""Job keys: every key that a job file knows, with its unit, its usual value and what it means.

What a key may be follows from the forms (`job_form`); what it means stands in ``data/job/keys.toml``, of the start
sequence in ``data/draft/start_sequence.csv``.
"""

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, get_args

from pydantic import WithJsonSchema
from pydantic.fields import FieldInfo

from ventcalc import tables
from ventcalc.job.job_fields import Form
from ventcalc.job.job_form import SETTINGS, File, Sequence
from ventcalc.job.repeated import KEYS as REPEATED
from ventcalc.units import Quantity

REQUIRED = "required"


@dataclass(frozen=True)
class Key:
    """One key: the ``table`` it stands in ("appliance.level"), an ``example`` where it takes a quantity, its meaning.

    ``usual`` is its usual value: `REQUIRED` where it must be told, "" where leaving it out means none.
    """

    table: str
    name: str
    example: str
    usual: str
    meaning: str

    @property
    def place(self) -> str:
        """Where it stands in a file: "appliance.level.co2"."""
        return f"{self.table}.{self.name}".lstrip(".")


def all_keys() -> tuple[Key, ...]:
    """Every key of a job file, table by table."""
    return tuple(_of(File, ""))


@cache
def meanings() -> Mapping[str, Mapping[str, str]]:
    """What keys mean, by form and key."""
    with (tables.DATA / "job" / "keys.toml").open("rb") as file:
        return tomllib.load(file)


def meaning(form: type[Form], key: str) -> str:
    """What one key means; KeyError where nothing is told of it."""
    if form is Sequence:
        return tables.row("start_sequence", key, "name")["label"]
    for one in form.__mro__:
        if key in meanings().get(one.__name__, {}):
            return meanings()[one.__name__][key]
    raise KeyError(f"{form.__name__}.{key}: no meaning in data/job/keys.toml")


def _of(form: type[Form], table: str) -> Iterator[Key]:
    inner = []
    for name, field in form.model_fields.items():
        example = _example(field.annotation, field.metadata)
        yield Key(table, name, example, _usual(form, name, field), meaning(form, name))
        own = _form(field.annotation)
        if own is not None:
            inner.append((own, f"{table}.{name}".lstrip(".")))
    for name in REPEATED.get(table, ()):
        if name not in form.model_fields:
            yield Key(table, name, "", "", meaning(form, name))
    for own, path in inner:
        yield from _of(own, path)


def _form(annotation: Any) -> type[Form] | None:
    """The form that a field holds, alone or in a list."""
    if isinstance(annotation, type) and issubclass(annotation, Form):
        return annotation
    return next((found for found in map(_form, get_args(annotation)) if found is not None), None)


def _example(annotation: Any, metadata: Any = ()) -> str:
    """An example of a quantity, "" for anything else."""
    for told in metadata:
        if isinstance(told, WithJsonSchema) and "examples" in told.json_schema:
            return told.json_schema["examples"][0]
    inside = getattr(annotation, "__metadata__", ())
    return next(filter(None, (_example(Any, inside) if inside else "", *map(_example, get_args(annotation)))), "")


def _usual(form: type[Form], name: str, field: FieldInfo) -> str:
    if field.is_required():
        return REQUIRED
    value = SETTINGS[name] if form is Sequence else field.get_default(call_default_factory=True)
    if isinstance(value, Quantity):
        return f"{value:~P}"
    if isinstance(value, Form) or value is None or value in ([], ""):
        return ""
    return str(value).lower() if isinstance(value, bool) else str(value)
