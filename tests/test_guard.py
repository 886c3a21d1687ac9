"""The door of every public function of quantities: wrong arguments are refused by name, and no answer is nonsense.

The functions are found by looking, so that a new one is held to this from its first day; `sample_calls` knows an
argument of every name.
"""

import dataclasses
import inspect
import re
from functools import cache

import numpy as np
import pytest
from sample_calls import OF_ITS_OWN, TYPICAL, call_of, things
from test_docstrings import QUANTITY_FUNCTIONS

from ventcalc.units import Q_, OutOfRangeWarning, Quantity

pytestmark = [
    pytest.mark.filterwarnings(f"ignore::{OutOfRangeWarning.__module__}.{OutOfRangeWarning.__name__}"),
    pytest.mark.filterwarnings("ignore::RuntimeWarning"),
]


@cache
def typical(name):
    """Arguments with which a function answers, and its answer."""
    function = QUANTITY_FUNCTIONS[name]
    call = call_of(name, function)
    return call, function(**call)


def quantities_of(name):
    """Those arguments of the typical call that are quantities."""
    return {argument: v for argument, v in typical(name)[0].items() if isinstance(v, Quantity)}


def answer_to(name, **changed):
    """What a function says against its typical call with some arguments changed, or None, and its answer."""
    try:
        return None, QUANTITY_FUNCTIONS[name](**typical(name)[0] | changed)
    except (TypeError, ValueError) as error:  # UnitsError is a TypeError
        return str(error), None


def named(argument, said) -> bool:
    """Whether an error tells of an argument by its name."""
    return said is not None and re.search(rf"\b{argument}\b", said) is not None


def numbers(answer) -> list[np.ndarray]:
    """All numbers of an answer, as arrays."""
    if isinstance(answer, Quantity):
        return [np.asarray(answer.m, float)]
    if isinstance(answer, (int, float, np.ndarray, np.number, np.bool_)):
        return [np.asarray(answer, float)]
    if isinstance(answer, (tuple, list)):
        return [found for part in answer for found in numbers(part)]
    if dataclasses.is_dataclass(answer):
        return [found for field in dataclasses.fields(answer) for found in numbers(getattr(answer, field.name))]
    return []


def sound(name, answer) -> bool:
    """Whether an answer is finite but where the function says otherwise, and no temperature below absolute zero."""
    allowed = QUANTITY_FUNCTIONS[name].allow.get("return", "").split()
    for word, is_such in (("nan", np.isnan), ("inf", np.isinf)):
        if word not in allowed and any(is_such(found).any() for found in numbers(answer)):
            return False
    kelvin = isinstance(answer, Quantity) and f"{answer.units:D}" == "kelvin"
    return not (kelvin and np.any(answer.m <= 0.0))


@pytest.mark.parametrize("name", QUANTITY_FUNCTIONS)
def test_it_answers_a_typical_call(name):
    assert sound(name, typical(name)[1])


def wrong_values(value):
    """Values that no argument of this unit can have, each with what it is."""
    unit, number = value.units, np.asarray(value.m, float)
    array = np.broadcast_to(number, number.shape or (2,)).astype(float)
    other = "kg" if unit != Q_(1, "kg").units else "m"
    return {
        "no unit that fits": Q_(number[()], other),
        "text": "much",
        "a list of texts": ["much"],
        "a mapping": {},
        "NaN": Q_(np.where(np.arange(number.size or 1).reshape(number.shape) == 0, np.nan, number)[()], unit),
        "empty": Q_(np.empty(0), unit),
        "masked": Q_(np.ma.masked_invalid(np.r_[array[:-1], np.nan]), unit),
        "objects": Q_(np.array([None, *array[1:]], object), unit),
        "texts in a unit": Q_(np.array([str(n) for n in array.ravel()]), unit),
        "complex": Q_(array + 1j, unit),
        "truth values": Q_(array > 0.0, unit),
    }  # fmt: skip


@pytest.mark.parametrize("name", QUANTITY_FUNCTIONS)
def test_what_is_no_number_is_refused_by_name(name):
    let_in = []
    for argument, value in quantities_of(name).items():
        for what, wrong in wrong_values(value).items():
            said, answer = answer_to(name, **{argument: wrong})
            if not named(argument, said):
                let_in.append((argument, what, said or answer))
    assert not let_in


# Numbers that no building has, in SI units; each may be answered, but never by nonsense.
EXTREMES = (0.0, -1.0, 1e-30, -1e-30, 1e30, -1e30, 1e300, np.inf, -np.inf)


def with_first(value, number):
    """A quantity with its first number, or its only one, another."""
    changed = np.array(value.m, float)
    changed.flat[0] = number
    return Q_(changed[()], value.units)


@pytest.mark.parametrize("name", QUANTITY_FUNCTIONS)
def test_numbers_that_no_building_has_are_refused_by_name_or_answered(name):
    nonsense = []
    for argument, value in quantities_of(name).items():
        for extreme in EXTREMES:
            said, answer = answer_to(name, **{argument: with_first(value, extreme)})
            if not (named(argument, said) if said else sound(name, answer)):
                nonsense.append((argument, extreme, said or answer))
    assert not nonsense


@pytest.mark.parametrize("name", QUANTITY_FUNCTIONS)
def test_what_is_of_another_kind_is_refused_by_name(name):
    arguments = inspect.signature(QUANTITY_FUNCTIONS[name]).parameters
    let_in = []
    for argument in set(arguments) - set(QUANTITY_FUNCTIONS[name].units):
        for wrong in (None, 1.5, "no such thing", [], {}, object()):
            if wrong is None and (arguments[argument].default is None or "None" in str(arguments[argument].annotation)):
                continue
            said, answer = answer_to(name, **{argument: wrong})
            if not named(argument, said):
                let_in.append((argument, wrong, said or answer))
    assert not let_in


# Functions that give one answer to all values of an array together.
TOGETHER = {"draft.fan_selection.select"}


@pytest.mark.parametrize("name", sorted(set(QUANTITY_FUNCTIONS) - TOGETHER))
def test_an_array_gives_what_its_numbers_give_one_by_one_or_is_refused(name):
    function, (call, _), wrong = QUANTITY_FUNCTIONS[name], typical(name), []
    for argument, value in quantities_of(name).items():
        if np.ndim(value.m) or function.shapes.get(argument, "one") != "one":
            continue  # a list, held against the others by the function itself
        several = Q_(np.array([1.0, 1.01, 0.99]) * value.m, value.units)
        said, answer = answer_to(name, **{argument: several})
        if said is not None:
            if not (named(argument, said) and "one number" in said):
                wrong.append((argument, said))
            continue
        for i, one in enumerate(several.m):
            alone = numbers(function(**call | {argument: Q_(one, value.units)}))
            if not all(map(same, (part[..., i] if part.ndim else part for part in numbers(answer)), alone)):
                wrong.append((argument, i, answer, alone))
    assert not wrong


def same(one, other) -> bool:
    return bool(np.allclose(one, other, rtol=1e-9, atol=0.0, equal_nan=True))


def test_every_argument_of_the_samples_is_still_some_functions():
    used = {argument for function in QUANTITY_FUNCTIONS.values() for argument in inspect.signature(function).parameters}
    assert not (set(TYPICAL) | set(things())) - used
    assert not set(OF_ITS_OWN) - set(QUANTITY_FUNCTIONS)
