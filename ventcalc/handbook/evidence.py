"""Evidence, the page: every row that a chapter stands on, gathered from the modules of all chapters."""

from functools import cache
from importlib import import_module
from types import ModuleType

from ventcalc.checked import Check
from ventcalc.handbook import measured
from ventcalc.show import contents
from ventcalc.show.evidence_table import Browser, Row
from ventcalc.show.unit_switch import in_units

# Chapters whose checks stand in a module of their own.
_ELSEWHERE = {
    "heat_loss": "heat_loss_checks",
    "clearances": "clearance_probes",
    "combustion_air": "combustion_air_checks",
}

# Runs in time that take some 20 s of a processor, and what has the solver compiled; they stand in their chapter, 15.
_SLOW = {"transient_checked", "folds_checked"}


def checks_of(subject: str) -> tuple[Check, ...]:
    """The rows of a chapter, by the name of its module ("stack_effect"), each once, what was measured last.

    Without those that take long.
    """
    module = import_module(f"ventcalc.handbook.{_ELSEWHERE.get(subject, subject)}")
    made = [check for name in _makers(module) for check in getattr(module, name)()]
    return tuple({check.id: check for check in (*made, *measured.checks_of(subject))}.values())


def _makers(module: ModuleType) -> list[str]:
    """The functions of a module that give checks, as it writes them one after the other."""
    return [
        name
        for name, value in vars(module).items()
        if name.endswith(("checks", "checked"))
        and name not in _SLOW
        and getattr(value, "__module__", "") == module.__name__
    ]


@cache
def rows() -> tuple[Row, ...]:
    """Every row of every chapter that has any, in the order of the chapters."""
    found = []
    for number, path in contents.chapters().items():
        told = f"{number:02d} {contents.title(number)}"
        found += [Row(told, check) for check in checks_of(path.stem[3:])]
    return tuple(found)


def browser() -> Browser:
    """The rows, to be chosen by chapter, source, status and verdict."""
    return Browser(rows())


def show() -> None:
    """Show them; they are told in the units of their sources, whichever the page has."""
    in_units(lambda _system: browser())
