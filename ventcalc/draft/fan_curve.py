"""Fan curve: what one fan, or several together, makes and takes at a flow, a speed and a density.

A fan is known by its curve in standard air at its rated speed; by the `fan_laws` the fan static pressure at flow q,
speed ratio n and density rho is

    p = rho/rho_curve n^2 f(q/n)

with f the curve. **Fan static pressure** is the static pressure at the outlet less the *total* pressure at the
inlet: the velocity head at the outlet is not in it.

f is a monotone piecewise cubic through the points of the rated speed (Fritsch and Carlson's slopes), so it meets them
exactly and makes no wiggles of its own; points at other speeds are kept and show how well the laws carry (`misfit`).
Beyond the flow at which the pressure is zero the impeller resists: there p = rho/rho_curve (a n^2 + b n q - K q^2),
smooth at its beginning, and at n = 0 what a stopped impeller costs. Flow that goes backwards is resisted likewise.
"""

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from ventcalc.compiled import either, law
from ventcalc.draft import curve_pieces
from ventcalc.draft.curve_pieces import Pieces
from ventcalc.draft.fan_laws import LAWS
from ventcalc.units import Quantity, quantities
from ventcalc.vent.false_position import zero_between

if TYPE_CHECKING:
    from scipy.interpolate import PchipInterpolator

KINDS = ("roof", "in-line")
_HYDRAULICS = "definition of fan static pressure and of efficiency"


@dataclass(frozen=True)
class Point:
    """One measured point: ``speed`` over the rated one, ``flow`` [m3/s], static ``pressure`` [Pa], ``power`` [W]."""

    speed: float
    flow: float
    pressure: float
    power: float


@dataclass(frozen=True)
class Fan:
    """A fan as its table describes it.

    ``kind`` "roof" (ends the vent) or "in-line". ``least_speed`` and ``most_speed`` are ratios to ``rated_speed``;
    below the first it does not turn steadily. Left of ``stall_flow`` (at rated speed) the flow breaks away from the
    blades. ``motor_power`` is what the motor may give at the shaft. ``density`` is that of the air the ``points``
    were measured in; those of speed 1 begin at zero flow and end at zero pressure. ``stopped_loss`` is what a stopped
    impeller costs in fan static pressure, in velocity heads of the outlet. All this describes one fan; the whole may
    be ``abreast`` of them side by side and ``stages`` of them one behind the other (`in_parallel`, `in_series`).
    ``condensate``: whether all that the gas touches is made to be wet with what flue gas condenses to.

    Raises ValueError, naming every fault, where that cannot be a fan.
    """

    name: str
    kind: str
    outlet_diameter: Quantity
    rated_speed: Quantity
    least_speed: float
    most_speed: float
    stall_flow: Quantity
    motor_power: Quantity
    highest_temperature: Quantity
    density: Quantity
    stopped_loss: float
    points: tuple[Point, ...]
    source: str = ""
    status: str = ""
    abreast: int = 1
    stages: int = 1
    condensate: bool = False

    def __post_init__(self):
        problems = _faults(self)
        if problems:
            raise ValueError(f"{self.name}: " + "; ".join(problems))

    @cached_property
    def area(self) -> float:
        """Area of the outlet, m2."""
        return float(np.pi / 4.0 * self.outlet_diameter.m_as("m") ** 2)

    @cached_property
    def curve_density(self) -> float:
        """Density of the air of the curve, kg/m3."""
        return float(self.density.m_as("kg/m**3"))

    @cached_property
    def rated(self) -> tuple[Point, ...]:
        """The points at the rated speed, by their flow."""
        return tuple(sorted((p for p in self.points if p.speed == 1.0), key=lambda p: p.flow))

    @property
    def free_flow(self) -> float:
        """Flow at which the pressure is zero at rated speed, m3/s."""
        return self.rated[-1].flow

    @cached_property
    def pressure_curve(self) -> "PchipInterpolator":
        """f: static pressure [Pa] of the flow [m3/s], at rated speed and the curve's density."""
        from scipy.interpolate import PchipInterpolator  # slow to import

        return PchipInterpolator([p.flow for p in self.rated], [p.pressure for p in self.rated])

    @cached_property
    def power_curve(self) -> "PchipInterpolator":
        """Shaft power [W] of the flow [m3/s], at rated speed and the curve's density."""
        from scipy.interpolate import PchipInterpolator  # slow to import

        return PchipInterpolator([p.flow for p in self.rated], [p.power for p in self.rated])

    @cached_property
    def most_power(self) -> float:
        """Greatest shaft power [W] over all flows, at rated speed and the curve's density."""
        return max(p.power for p in self.rated)  # the interpolation does not rise above its points

    @cached_property
    def beyond(self) -> tuple[float, float, float]:
        """a, b, K of the pressure a n^2 + b n q - K q^2 past the free flow [Pa, Pa s/m3, Pa s2/m6]."""
        slope, free = float(self.pressure_curve(self.free_flow, 1)), self.free_flow
        resistance = self.stopped_loss * 0.5 * self.curve_density / self.area**2
        return -slope * free - resistance * free**2, slope + 2.0 * resistance * free, resistance

    @cached_property
    def behind(self) -> tuple[float, float, float]:
        """a, b, K of the pressure a n^2 + b n q + K q^2 for flow that goes backwards."""
        return float(self.pressure_curve(0.0)), float(self.pressure_curve(0.0, 1)), self.beyond[2]

    @cached_property
    def numbers(self) -> "FanNumbers":
        """What its pressure hangs on, as plain numbers."""
        handed_on = 0.5 * self.curve_density / self.area**2
        counts = float(self.abreast), float(self.stages)
        curve = curve_pieces.pieces(self.pressure_curve)
        return FanNumbers(
            curve, float(self.free_flow), self.beyond, self.behind, *counts, handed_on, self.curve_density
        )

    @property
    def turndown(self) -> float:
        """Highest over lowest steady speed: on a vent without draft, of flow as well."""
        return self.most_speed / self.least_speed

    def revolutions(self, speed: float) -> str:
        """A speed ratio as the shaft's own speed, in words."""
        return f"{speed * self.rated_speed.m_as('rpm'):.0f} rpm"


_GRID = np.linspace(0.0, 1.0, 201)


def _faults(fan: Fan) -> list[str]:
    """Why this cannot be a fan, one sentence each."""
    found = [] if fan.kind in KINDS else [f"kind {fan.kind!r}: choose roof or in-line"]
    for words, value, unit in (
        ("outlet_diameter", fan.outlet_diameter, "m"),
        ("rated_speed", fan.rated_speed, "rpm"),
        ("motor_power", fan.motor_power, "W"),
        ("highest_temperature", fan.highest_temperature, "K"),
        ("density", fan.density, "kg/m**3"),
    ):
        if not float(value.m_as(unit)) > 0.0:
            found.append(f"{words} = {value:~P} must be above 0")
    if not 0.0 < fan.least_speed <= fan.most_speed:
        found.append(
            f"least speed {fan.least_speed:.3g} and most {fan.most_speed:.3g} of rated: need 0 < least <= most"
        )
    rated = fan.rated
    if len(rated) < 4:
        return [*found, f"{len(rated)} points at rated speed; a curve needs 4 or more"]
    flow, pressure, power = (np.array([getattr(p, part) for p in rated]) for part in ("flow", "pressure", "power"))
    if np.any(np.diff(flow) <= 0.0):
        return [*found, "two points at rated speed have the same flow"]
    if flow[0] != 0.0:
        found.append("the curve at rated speed must begin at zero flow")
    if pressure[-1] != 0.0 or np.any(pressure[:-1] <= 0.0):
        found.append("the pressure at rated speed must be above zero everywhere and zero at the last point")
    if np.any(power <= 0.0):
        found.append("the shaft power must be above zero")
    if not 0.0 <= fan.stall_flow.m_as("m**3/s") < flow[-1]:
        found.append(f"stall_flow = {fan.stall_flow:~P} must lie between zero and the last point")
    return found or _faults_of_curve(fan)


def _faults_of_curve(fan: Fan) -> list[str]:
    """Whether more speed always makes more pressure at the same flow: otherwise no speed could be found for a duty."""
    flow = fan.free_flow * _GRID
    if np.any(2.0 * fan.pressure_curve(flow) - flow * fan.pressure_curve(flow, 1) <= 0.0):
        return ["the pressure rises with flow so steeply that more speed would make less of it"]
    least = -float(fan.pressure_curve(fan.free_flow, 1)) * fan.area**2 / (fan.free_flow * fan.curve_density)
    if fan.stopped_loss < least:
        return [f"stopped_loss = {fan.stopped_loss:.3g} is less than the curve's own fall at its end, {least:.3g}"]
    return []


_POINT = {"flow": "m**3/s", "speed": "", "density": "kg/m**3"}
_POSSIBLE = {"at_least": {"speed": 0.0}, "above": {"density": 0.0}}


@quantities("Pa", **_POINT, **_POSSIBLE, source=LAWS)
def static_pressure(fan: Fan, flow, speed, density):
    """Fan static pressure, rho/rho_curve n^2 f(q/n); past free flow and backwards the impeller's resistance.

    fan: `Fan`; flow: q, m3/s, any sign; speed: n, over the rated speed, at least 0; density: of the gas at the fan,
    kg/m3; numbers or arrays that broadcast. Smooth in flow and speed, also where the pressure is zero and at n = 0.

    Whether the fan may turn that fast, is another question (`Fan.most_speed`). Source: fan laws.
    """
    return static_from(fan.numbers, np.asarray(flow, float), np.asarray(speed, float), density)


class FanNumbers(NamedTuple):
    """What `static_pressure` takes of a fan, as plain numbers.

    The ``curve`` of a single fan at its rated speed, its ``free`` flow [m3/s], the quadratics ``beyond`` it and
    ``behind`` zero flow (`Fan`), how many stand ``abreast`` and in ``stages``, what one stage hands on [Pa s2/m6], and
    the ``density`` of the curve [kg/m3].
    """

    curve: Pieces
    free: float
    beyond: tuple[float, float, float]
    behind: tuple[float, float, float]
    abreast: float
    stages: float
    handed_on: float
    density: float


@law
def static_from(fan, flow, speed, density):
    """`static_pressure` of a fan's numbers."""
    own = flow / fan.abreast
    free, square = fan.free * speed, speed * speed
    at = np.minimum(np.maximum(own, 0.0), free) / np.maximum(speed, 1e-12)
    inside = square * curve_pieces.value(fan.curve, at)
    a, b, resistance = fan.beyond
    beyond = a * square + (b * speed - resistance * own) * own
    a, b, resistance = fan.behind
    behind = a * square + (b * speed + resistance * own) * own
    one = either(own > free, beyond, either(own < 0.0, behind, inside))
    handed_on = fan.handed_on * own * np.abs(own)
    return density / fan.density * (fan.stages * one + (fan.stages - 1.0) * handed_on)


def _static(fan: Fan, flow, speed):
    """Static pressure at the density of the curve."""
    return static_from(fan.numbers, np.asarray(flow, float), np.asarray(speed, float), fan.curve_density)


def _on_curve(fan: Fan, flow, speed):
    """q/n of a single fan, kept on the curve from zero to free flow; 0 where it stands still."""
    return np.minimum(np.maximum(flow, 0.0), fan.free_flow * speed) / np.maximum(speed, 1e-12)


@quantities("W", **_POINT, **_POSSIBLE, source=LAWS)
def shaft_power(fan: Fan, flow, speed, density):
    """Power at the shaft, rho/rho_curve n^3 g(q/n).

    fan: `Fan`; flow: q, m3/s; speed: n, over the rated speed, at least 0; density: of the gas at the fan, kg/m3;
    numbers or arrays that broadcast. Past free flow, and for flow that goes backwards, the power at that end of the
    curve.

    The motor and its drive lose more on top (their own efficiency is not known here). Source: fan laws.
    """
    flow, count = np.asarray(flow, float) / fan.abreast, fan.abreast * fan.stages
    return count * density / fan.curve_density * speed**3 * fan.power_curve(_on_curve(fan, flow, speed))


@quantities("", flow="m**3/s", speed="", at_least={"flow": 0.0}, above={"speed": 0.0}, source=_HYDRAULICS)
def efficiency(fan: Fan, flow, speed):
    """Static efficiency: flow times static pressure over shaft power; the density cancels.

    fan: `Fan`; flow: m3/s, at least 0; speed: over the rated speed, above 0; numbers or arrays that broadcast. Negative
    past free flow, where the fan only resists. Source: definition.
    """
    return flow * static_pressure.bare(fan, flow, speed, 1.0) / shaft_power.bare(fan, flow, speed, 1.0)


@quantities("m/s", flow="m**3/s", source="continuity")
def discharge_velocity(fan: Fan, flow):
    """Mean velocity in the outlet: q / A.

    fan: `Fan`; flow: m3/s, number or array. Source: continuity.
    """
    return flow / (fan.abreast * fan.area)


@quantities(
    "",
    flow="m**3/s",
    pressure="Pa",
    density="kg/m**3",
    at_least={"flow": 0.0},
    above={"density": 0.0},
    allow={"return": "nan"},
    source=LAWS,
)
def speed_for(fan: Fan, flow, pressure, density):
    """Speed, over the rated one, at which a fan makes this static pressure at this flow: inverse of `static_pressure`.

    fan: `Fan`; flow: m3/s, at least 0; pressure: fan static pressure, Pa, any sign; density: of the gas at the fan,
    kg/m3; numbers or arrays that broadcast.

    NaN where even the fan's most speed makes less. 0 where even the stopped impeller lets more through: there the draft
    is too strong and no fan can help. A speed below the fan's least is given as it is found. Source: fan laws.
    """
    wanted = pressure * fan.curve_density / density
    flow, wanted = np.broadcast_arrays(np.asarray(flow, float), np.asarray(wanted, float))

    def over(speed):
        return _static(fan, flow, speed) - wanted

    least, most = np.zeros(flow.shape), np.full(flow.shape, fan.most_speed)
    found = np.where(over(least) >= 0.0, 0.0, zero_between(over, least, most))
    return np.where(over(most) < 0.0, np.nan, found)[()]


def misfit(fan: Fan) -> float:
    """Greatest distance of the table's points from the curve carried by the laws, over shut-off pressure at that speed.

    At the rated speed the curve goes through its points, so only those at other speeds count.
    """
    shut = fan.rated[0].pressure
    return max(abs(p.pressure - float(_static(fan, p.flow, p.speed))) / (shut * p.speed**2) for p in fan.points)


def in_parallel(fan: Fan, count: int = 2) -> Fan:
    """``count`` equal fans side by side as one: their flows add at the same pressure.

    They share only right of the stall limit. One that stands still lets gas back unless it is shut off; that is not
    in this curve.
    """
    _check_count(count)
    return replace(fan, name=f"{count} x {fan.name} in parallel", abreast=count * fan.abreast)


def in_series(fan: Fan, count: int = 2) -> Fan:
    """``count`` equal fans one behind the other as one: at the same flow their *total* pressures add.

    In static pressure that is ``count`` times one fan's, and the velocity head that each but the last hands on to the
    next one's inlet.
    """
    _check_count(count)
    return replace(fan, name=f"{count} x {fan.name} in series", stages=count * fan.stages)


def _check_count(count: int) -> None:
    if count < 1 or count != int(count):
        raise ValueError(f"count = {count}: a whole number of fans, 1 or more")
