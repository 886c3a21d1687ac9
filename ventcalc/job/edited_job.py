"""Edited job: a job file that is changed field by field, while its comments, order and units stay as they were typed.

A document is the file as tomlkit reads it. A field goes by its path, ("appliance", 0, "level", 1, "input"): keys, and
numbers from 0 in lists. What is wrong is told by `problems`, each problem with the path that it belongs to, so that it
can stand beside its field.
"""

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

import tomlkit
from tomlkit import TOMLDocument
from tomlkit.exceptions import TOMLKitError

from ventcalc.job import job_faults, job_file, job_keys, job_schema
from ventcalc.job.repeated import numbered

Path = tuple[str | int, ...]

# What a form can add to or take away from, beside the lists of a table: fittings of a section.
TABLES = ("appliance", "section")


@dataclass(frozen=True)
class Field:
    """One field: its ``path``, its ``key``, the ``text`` that stands there ("" where it is left out), an ``example``
    with its unit where it takes a quantity, its ``usual`` value (see `job_keys.Key`) and what it means."""

    path: Path
    key: str
    text: str
    example: str
    usual: str
    meaning: str


@dataclass(frozen=True)
class Problem:
    """What is wrong, in a ``sentence``, at a ``path``: of a field, of a table, or () of the file as a whole."""

    path: Path
    sentence: str


def opened(text: str) -> TOMLDocument:
    """The document of a file's text. Raises `JobError` where it is no TOML."""
    try:
        return tomlkit.parse(text)
    except TOMLKitError as error:
        raise job_file.JobError([f"job: {error}; see toml.io for the form of a TOML file"]) from None


def text(document: TOMLDocument) -> str:
    """The text of the file; that which was opened where nothing was changed."""
    return document.as_string()


def fields(document: TOMLDocument) -> tuple[Field, ...]:
    """Every field of the file's tables, as they stand there, and after those of a table what it leaves out."""
    return tuple(_fields(document, (), ""))


def with_field(document: TOMLDocument, path: Path, typed: str) -> TOMLDocument:
    """The document with one field as it was typed, its unit kept; nothing typed leaves the field out.

    Numbers and true or false stay what they are where they are typed so. Raises KeyError for a path that leads nowhere.
    """
    table, key = _at(document, path[:-1]), path[-1]
    there = _has(table, key)
    if (there and _told(table[key]) == typed) or (not there and not typed):
        return document
    if isinstance(key, int) and not there:
        raise KeyError(f"{path}: the list has {len(table)}; add one first")
    table = _at(changed := opened(text(document)), path[:-1])
    if typed:
        table[key] = _value(typed, table[key] if there else None, _place(path))
    elif isinstance(key, int):
        table[key] = ""  # an empty place of a list is a fault to be told, not a shorter list
    else:
        table.remove(key)
    return changed


def with_one_more(document: TOMLDocument, path: Path) -> TOMLDocument:
    """The document with a copy of an item of a list behind it, such as ("appliance", 0) or a section's fitting.

    The copy of a table has a name of its own, numbered. Raises KeyError where nothing stands there.
    """
    if isinstance(_at(document, path), Mapping):
        return opened(_with_copied_lines(document, path))
    changed = opened(text(document))
    listed, place = _at(changed, path[:-1]), int(path[-1])
    listed.insert(place + 1, listed[place].unwrap())
    return changed


def without(document: TOMLDocument, path: Path) -> TOMLDocument:
    """The document without an item of a list. Raises ValueError for the last table of its kind, KeyError for none."""
    changed = opened(text(document))
    listed, item = _at(changed, path[:-1]), _at(changed, path)
    if isinstance(item, Mapping) and len(listed) == 1:
        raise ValueError(f"{path[-2]}: this is the only one; a job file needs at least one")
    del listed[int(path[-1])]
    return changed


def problems(document: TOMLDocument) -> tuple[Problem, ...]:
    """All that is wrong with the file as it stands, as `job_file.read` tells it; none where it can be studied."""
    try:
        job_file.read(text(document).encode())
    except job_file.JobError as error:
        places = _places(document)
        return tuple(Problem(_belongs(sentence, places), sentence) for sentence in error.problems)
    return ()


def _at(document: Any, path: Path) -> Any:
    here = document
    for key in path:
        if not _has(here, key):
            raise KeyError(f"{path}: nothing stands there")
        here = here[key]
    return here


def _has(table: Any, key: str | int) -> bool:
    return 0 <= key < len(table) if isinstance(key, int) else key in table


def _told(value: Any) -> str:
    """A value as it stands in a box."""
    plain = value.unwrap() if hasattr(value, "unwrap") else value
    return str(plain).lower() if isinstance(plain, bool) else str(plain)


def _value(typed: str, old: Any, place: str) -> Any:
    """What was typed as a value of TOML: a number, true or false where the field takes one, else text."""
    plain = old.unwrap() if hasattr(old, "unwrap") else old
    takes_plain = isinstance(plain, bool | int | float) or place in _plain_keys()
    if takes_plain and typed in ("true", "false"):
        return tomlkit.item(typed == "true")
    if takes_plain and typed.removeprefix("-").isdecimal():
        return tomlkit.item(int(typed))
    return tomlkit.item(typed)


@cache
def _keys() -> Mapping[str, job_keys.Key]:
    return {key.place: key for key in job_keys.all_keys()}


@cache
def _plain_keys() -> frozenset[str]:
    """Places of keys that take a whole number, true or false."""
    return frozenset(place for place, form in _forms().items() if form.get("type") in ("boolean", "integer"))


def _place(path: Path) -> str:
    """The place of a path in the list of keys: "appliance.level.input"."""
    return ".".join(key for key in path if isinstance(key, str))


def _fields(value: Any, path: Path, table: str) -> Iterator[Field]:
    if isinstance(value, Mapping):
        for key, inner in value.items():
            yield from _fields(inner, (*path, key), f"{table}.{key}".lstrip("."))
        yield from (_field((*path, key.name), "", key) for key in _left_out(value, table))
    elif isinstance(value, list):
        for number, inner in enumerate(value):
            yield from _fields(inner, (*path, number), table)
    else:
        yield _field(path, _told(value), _keys().get(table))


def _left_out(value: Mapping, table: str) -> list[job_keys.Key]:
    """The fields that a table of the file leaves out; the file itself has tables alone."""
    own = [k for k in _keys().values() if k.table == table and k.name not in value] if table else []
    return [k for k in own if not _is_table(k.place) and k.place not in _lists()]


def _field(path: Path, shown: str, key: job_keys.Key | None) -> Field:
    """One field; of a key that no form knows nothing is told but its name."""
    named = [k for k in path if isinstance(k, str)][-1]
    return Field(path, named, shown, *((key.example, key.usual, key.meaning) if key else ("", "", "")))


def _is_table(place: str) -> bool:
    return any(key.table == place for key in _keys().values())


@cache
def _lists() -> frozenset[str]:
    """Places of keys that take a list or shares by name: they are no single field while they are left out."""
    return frozenset(place for place, form in _forms().items() if form.get("type") in ("array", "object"))


@cache
def _forms() -> Mapping[str, Mapping[str, Any]]:
    """What may stand at every place, by the schema; "" is the file itself."""
    told = job_schema.schema()
    found = {"": told}
    for key in _keys().values():
        found.setdefault(key.place, _form(told, found[key.table]["properties"].get(key.name, {})))
    return found


def _form(told: Mapping[str, Any], value: Mapping[str, Any]) -> Mapping[str, Any]:
    """The schema of one value, or of the tables in its list."""
    value = next((v for v in value.get("anyOf", ()) if v.get("type") != "null"), value)
    reference = value.get("$ref") or value.get("items", {}).get("$ref")
    return told["$defs"][reference.rpartition("/")[2]] if reference else value


def _with_copied_lines(document: TOMLDocument, path: Path) -> str:
    """The text with the lines of a table, from its head to the next table of its kind or a higher one, told twice."""
    lines = text(document).splitlines(keepends=True)
    heads = [k for k, line in enumerate(lines) if line.startswith("[")]
    kind = _place(path)
    own = [k for k in heads if lines[k].startswith(f"[[{kind}]]")]
    begin = own[_number_in_file(document, path)]
    end = next((k for k in heads if k > begin and not lines[k].startswith((f"[[{kind}.", f"[{kind}."))), len(lines))
    while end > begin + 1 and (not lines[end - 1].strip() or lines[end - 1].startswith("#")):
        end -= 1  # blank lines and a comment before the next table belong to that one
    copied = opened("".join(lines[begin:end]))
    table = _at(copied, tuple(0 if isinstance(k, int) else k for k in path[:2])) if len(path) == 2 else None
    if table is not None and "name" in table:
        table["name"] = _free_name(str(table["name"]), [t.get("name") for t in document[path[0]]])
    return "".join([*lines[:end], *([] if lines[end - 1].endswith("\n") else ["\n"]), "\n", text(copied), *lines[end:]])


def _number_in_file(document: TOMLDocument, path: Path) -> int:
    """Which of all tables of its kind a table is, in the order of the file."""
    if len(path) == 2:
        return int(path[1])
    kind, number, inner, place = path
    return sum(len(t.get(inner, ())) for t in document[kind][:number]) + int(place)


def _free_name(name: str, taken: list[str]) -> str:
    return next(n for k in range(2, len(taken) + 3) if (n := numbered(name, k)) not in taken)


def _places(document: TOMLDocument) -> list[tuple[str, Path]]:
    """How problems name every place of the file, with its path, the longest names first."""
    content = tomllib.loads(text(document))
    known = {path for f in fields(document) for path in _steps(f.path)}
    known |= {(*path, key.name) for path in known for key in _keys().values() if key.table == _place(path)}
    named = [(job_faults.place(path, content), path) for path in known]
    named += [(job_faults.place((key.name,), content), (key.name,)) for key in _keys().values() if not key.table]
    for kind, rows in content.items():
        for number, row in enumerate(rows if isinstance(rows, list) else ()):
            name = row.get("name") if isinstance(row, dict) else None
            count = row.get("count") if isinstance(name, str) else 0
            pieces = range(1, count + 1) if isinstance(count, int) else ()
            named += [(f'{kind} "{n}"', (kind, number)) for n in (name, *(numbered(name, k) for k in pieces)) if n]
    return sorted(named, key=lambda one: (-len(one[0]), str(one[1])))


def _steps(path: Path) -> Iterator[Path]:
    return (path[:k] for k in range(1, len(path) + 1))


def _belongs(sentence: str, places: list[tuple[str, Path]]) -> Path:
    """The path of the place that a problem begins with."""
    return next((path for place, path in places if sentence.startswith(f"{place}: ")), ())
