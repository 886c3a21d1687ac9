"""Every module says what it is for; every public function names its arguments and its source."""

import ast
import importlib
import importlib.util
import inspect
import re
from functools import cache
from pathlib import Path

import pytest
from sample_sources import parsed
from test_import_order import MODULES

# Importing __main__ would not run anything, but it is a command, not a subject.
LOADED = {name: importlib.import_module(f"ventcalc.{name}") for name in MODULES if name != "__main__"}

QUANTITY_FUNCTIONS = {
    f"{name}.{attribute}": function
    for name, module in LOADED.items()
    for attribute, function in vars(module).items()
    if hasattr(function, "bare") and hasattr(function, "source") and function.__module__ == module.__name__
}

PUBLIC = {
    f"{name}.{attribute}": thing
    for name, module in LOADED.items()
    for attribute, thing in vars(module).items()
    if not attribute.startswith("_")
    and (inspect.isfunction(thing) or inspect.isclass(thing))
    and thing.__module__ == module.__name__
}


@pytest.mark.parametrize("name", LOADED)
def test_module_has_a_docstring(name):
    assert (LOADED[name].__doc__ or "").strip()


@pytest.mark.parametrize("name", PUBLIC)
def test_public_name_has_a_docstring(name):
    assert (PUBLIC[name].__doc__ or "").strip()


@pytest.mark.parametrize("name", QUANTITY_FUNCTIONS)
def test_docstring_names_every_argument(name):
    function = QUANTITY_FUNCTIONS[name]
    arguments = inspect.signature(function).parameters
    missing = [a for a in arguments if not re.search(rf"\b{re.escape(a)}\b", function.__doc__ or "")]
    assert not missing


@pytest.mark.parametrize("name", QUANTITY_FUNCTIONS)
def test_function_states_its_source(name):
    assert len(QUANTITY_FUNCTIONS[name].source.strip()) >= 8, "name the publication, or 'common practice, no source'"


# `module.name` or `Class.name` between single backticks, in docstrings and comments.
REFERENCE = re.compile(r"(?<!`)`(\w+)\.(\w+)[\w.]*`(?!`)")


@cache
def own_names(name: str) -> set[str]:
    """What a module defines itself, as against what it imports."""
    body = parsed(Path(LOADED[name].__file__)).body
    named = {node.name for node in body if isinstance(node, ast.FunctionDef | ast.ClassDef)}
    stored = (n for node in body if isinstance(node, ast.Assign | ast.AnnAssign) for n in ast.walk(node))
    return named | {n.id for n in stored if isinstance(n, ast.Name) and isinstance(n.ctx, ast.Store)}


def is_there(first: str, name: str) -> bool:
    """Whether a module or a class of that name has such a name of its own; a library's are taken as there."""
    if any(name in own_names(module) for module in LOADED if module.rpartition(".")[2] == first):
        return True
    classes = [thing for key, thing in PUBLIC.items() if key.rpartition(".")[2] == first and inspect.isclass(thing)]
    if any(hasattr(c, name) or name in inspect.get_annotations(c) for c in classes):
        return True
    return (
        not classes
        and first not in {m.rpartition(".")[2] for m in LOADED}
        and bool(importlib.util.find_spec({"np": "numpy"}.get(first, first)))
    )


@pytest.mark.parametrize("name", LOADED)
def test_what_is_pointed_to_is_there(name):
    text = Path(LOADED[name].__file__).read_text(encoding="utf-8")
    lost = {m[0] for m in REFERENCE.finditer(text) if not is_there(*m.groups())}
    assert not lost


def test_a_reference_that_moved_is_noticed():
    assert is_there("outlet_envelope", "Envelope") and is_there("Envelope", "margin")
    assert not is_there("firing_states", "Envelope") and not is_there("Envelope", "marg")


def test_functions_were_found():
    assert QUANTITY_FUNCTIONS and PUBLIC
