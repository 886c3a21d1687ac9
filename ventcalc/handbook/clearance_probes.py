"""Clearance probes: published distances found again, each the place where a verdict turns."""

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np

from ventcalc import tables
from ventcalc.building import clearance_table
from ventcalc.building.clearances import judge
from ventcalc.building.code_rules import FAIL, NONE
from ventcalc.building.roof_scene import Mark, Obstacle, Opening, RoofPlane, Scene
from ventcalc.building.terminal import (
    CHIMNEY,
    DIRECT,
    FAN,
    GAS_VENT,
    TYPE_L,
    WALL_VENT,
    Terminal,
    at_height,
)
from ventcalc.checked import Check, compare
from ventcalc.units import Q_, Quantity

_BARE = 0.2  # m, a vent for probing


def _turns(breaks: Callable[[float], bool], broken: float, met: float) -> float:
    """Where [m] between two ends a requirement turns, to a hundredth of a millimeter, on the side where it is met."""
    if not breaks(broken) or breaks(met):
        raise ValueError("the requirement does not turn between these ends")
    while abs(met - broken) > 1e-5:
        middle = 0.5 * (broken + met)
        broken, met = (middle, met) if breaks(middle) else (broken, middle)
    return met


def _probe(kind: str, low: float = 5.0, **more) -> Terminal:
    through = "wall" if kind in (WALL_VENT, DIRECT) else "roof"
    given = {"through": through, "hood": Q_(-99.0, "m"), "heat_input": Q_(40.0, "MBH")} | more
    return Terminal("vent", Q_(0.0, "m"), Q_(0.0, "m"), Q_(low, "m"), Q_(2 * _BARE, "m"), kind, **given)


def _breaks(scene: Scene, terminal: Terminal, rule: str) -> bool:
    only = tuple(r for r in clearance_table.shipped_rules() if r.rule == rule)
    return next(f for f in judge(scene, terminal, only) if f.rule == rule).verdict == FAIL


def _level(*obstacles: Obstacle) -> Scene:
    square = Q_(np.array([[-50.0, -50.0], [50.0, -50.0], [50.0, 50.0], [-50.0, 50.0]]), "m")
    return Scene((RoofPlane.flat("roof", square, Q_(0.0, "m")),), obstacles)


def _height_found(scene: Scene, terminal: Terminal, rule: str, over: float = 0.0) -> Quantity:
    """Least height over ``over`` [m] at which a rule is met."""

    def breaks(z: float) -> bool:
        return _breaks(scene, at_height(terminal, Q_(over + z, "m")), rule)

    return Q_(_turns(breaks, 0.01, 9.0), "m")


def _gap_found(make: Callable[[float], Scene], terminal: Terminal, rule: str) -> Quantity:
    """Least distance in plan, from the vent's outside, at which a rule is met; ``make`` puts its thing at x [m]."""
    return Q_(_turns(lambda gap: _breaks(make(gap + _BARE), terminal, rule), 0.01, 9.0), "m")


def _wall(x: float, top: float = 8.0) -> Obstacle:
    return Obstacle("wall", "wall", Q_(np.array([[x, -9.0], [x, 9.0]]), "m"), Q_(top, "m"))


def _window(x: float, kind: str = "operable window") -> Scene:
    return Scene((), openings=(Opening("it", kind, Q_([[x, 0.0]], "m"), Q_(5.0, "m"), Q_(6.0, "m")),))


def _mark(kind: str) -> Callable[[float], Scene]:
    line = np.array([[0.0, -9.0], [0.0, 9.0]]) if kind == "property line" else np.array([[0.0, 0.0]])
    return lambda x: Scene((), marks=(Mark("it", kind, Q_(line + np.array([x, 0.0]), "m")),))


def _pitch_found(pitch: float) -> Quantity:
    """What the table asks for on a roof of this pitch."""
    plan = Q_(np.array([[-40.0, -40.0], [40.0, -40.0], [40.0, 40.0], [-40.0, 40.0]]), "m")
    roof = RoofPlane.pitched("roof", plan, Q_([0.0, 0.0, 0.0], "m"), Q_(90, "degree"), pitch)
    terminal = replace(_probe(GAS_VENT), diameter=Q_(12.0, "inch"))
    passage = 0.5 * 12 * 0.0254 * pitch / 12.0  # m, where its upper edge leaves the roof
    return _height_found(Scene((roof,)), terminal, "gas vent by roof pitch", passage)


def _table_begins(way: Callable[[float], tuple[Scene, Terminal]], outside: float, within: float) -> Quantity:
    """Where between two ends [m] the table by pitch begins to hold."""

    def out(v: float) -> bool:
        return next(f for f in judge(*way(v)) if f.rule == "gas vent by roof pitch").verdict == NONE

    return Q_(_turns(out, outside, within), "m")


@cache
def checks() -> tuple[Check, ...]:
    """Published distances beside ours; each of ours is the place where a verdict turns, found by halving."""
    near = "chimney above what is near"
    level, far = _level(), _probe(CHIMNEY, 5.0)
    rows = {
        "T001": _height_found(level, far, "chimney above the roof"),
        "T002": _height_found(_level(_wall(1.0, 2.0)), far, near, over=2.0),
        "T003": _gap_found(lambda x: _level(_wall(x)), far, near),
        "T008": _height_found(level, _probe(TYPE_L), "type L vent above the roof"),
    }
    pitches = [
        float(r["roof_pitch_over_12_max"]) for r in tables.read("clearances_checks") if r["roof_pitch_over_12_max"]
    ]
    rows |= {f"T{9 + k:03d}": _pitch_found(pitch) for k, pitch in enumerate(pitches)}
    gas = _probe(GAS_VENT)
    small = replace(gas, diameter=Q_(_BARE, "m"))
    rows["T021"] = _table_begins(lambda gap: (_level(_wall(gap + 0.5 * _BARE)), small), 0.1, 5.0)
    rows["T022"] = _table_begins(lambda size: (level, replace(gas, diameter=Q_(size, "m"))), 0.5, 0.1)
    rows["T023"] = _height_found(_level(_wall(1.0, 2.0)), gas, "large or walled gas vent above what is near", over=2.0)
    return compare("clearances_checks", rows | _opening_rows() | _other_rows())


def _opening_rows() -> dict[str, Quantity]:
    """Distances from windows and intakes."""
    window, fan = "window, door or gravity inlet", _probe(WALL_VENT, 5.5)
    inlet = "forced-air inlet, fuel gas code"
    direct = "direct vent from an air opening"
    rows = {
        "T024": _height_found(_window(1.0, "forced-air intake"), fan, inlet, over=6.0),
        "T025": Q_(_turns(lambda below: _breaks(_window(1.0), _probe(WALL_VENT, 5.0 - below), window), 0.1, 4.0), "m"),
        "T026": _gap_found(_window, fan, window),
        "T027": _height_found(_window(1.0), fan, window, over=6.0),
    }
    for key, heat in (("T032", 10.0), ("T033", 50.0), ("T034", 60.0)):
        rows[key] = _gap_found(_window, _probe(DIRECT, 5.5, heat_input=Q_(heat, "MBH")), direct)
    return rows


def _other_rows() -> dict[str, Quantity]:
    """Grade, corner, meter, lot line, hood."""
    ground, fan = Scene(()), _probe(FAN, 5.5)
    hooded = _probe(CHIMNEY, hood=Q_(1.0, "m"))
    return {
        "T028": _height_found(ground, _probe(WALL_VENT), "bottom above grade"),
        "T029": _gap_found(_mark("interior corner"), fan, "interior corner"),
        "T030": _gap_found(_mark("gas meter"), fan, "gas meter or oil tank vent"),
        "T031": _gap_found(_mark("property line"), fan, "lot line or adjacent building"),
        "T035": _height_found(ground, _probe(DIRECT), "bottom above grade, direct vent"),
        "T036": _height_found(ground, hooded, "above the draft hood", over=1.0),
    }
