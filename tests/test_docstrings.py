"""Every module says what it is for; every public function names its arguments and its source."""

import importlib
import inspect
import re

import pytest
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


def test_functions_were_found():
    assert QUANTITY_FUNCTIONS and PUBLIC
