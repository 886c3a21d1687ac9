"""Fans: curves of draft fans, the fan laws, density, an operating point, selection.

A fan is known by its curve in standard air at its rated speed. At another speed and density every point of it moves by
the fan laws: flow as the speed, pressure as density times speed squared, power as density times speed cubed. So
the fan static pressure at flow q, speed ratio n and density rho is

    p = rho/rho_curve n^2 f(q/n)

with f the curve. **Fan static pressure** is the static pressure at the outlet less the *total* pressure at the
inlet: the velocity head at the outlet is not in it. **Speed** is a ratio to the rated speed; revolutions are not used
as a unit (a revolution per minute is an angular speed to a unit registry, and 1 rpm is not 1/60 per second there).

f is a monotone piecewise cubic through the points of the rated speed (Fritsch and Carlson's slopes), so it meets them
exactly and makes no wiggles of its own; points at other speeds are kept and show how well the laws carry (`misfit`).
Beyond the flow at which the pressure is zero the impeller resists: there p = rho/rho_curve (a n^2 + b n q - K q^2),
smooth at its beginning, and at n = 0 what a stopped impeller costs. Flow that goes backwards is resisted likewise.
"""

import csv
from collections.abc import Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from functools import cache, cached_property
from pathlib import Path
from typing import Any

import numpy as np
from scipy.interpolate import PchipInterpolator

from ventcalc import tables
from ventcalc.flow import friction
from ventcalc.gas import atmosphere, flue_gas
from ventcalc.gas.atmosphere import STANDARD_AIR
from ventcalc.units import Q_, Quantity, quantities, show

KINDS = ("roof", "in-line")

_LAWS = "fan laws; standard air 0.075 lb/ft3 (fans_checks.csv F001)"
_HYDRAULICS = "definition of fan static pressure and of efficiency"


# --- The laws -------------------------------------------------------------------------------------------------


@quantities(
    ("m**3/s", "Pa", "W"),
    flow="m**3/s",
    pressure="Pa",
    power="W",
    speed_ratio="",
    density_ratio="",
    at_least={"speed_ratio": 0.0},
    above={"density_ratio": 0.0},
    source=_LAWS,
)
def by_the_laws(flow, pressure, power, speed_ratio=1.0, density_ratio=1.0):
    """A fan's point at another speed and density: q n, p r n^2, P r n^3.

    flow: q, m3/s; pressure: p, Pa; power: at the shaft P, W; speed_ratio: n, new over old, at least 0; density_ratio:
    r, new over old, above 0; numbers or arrays that broadcast. The point stays at the same place of the curve, so its
    efficiency stays as well.

    Valid while friction and leakage scale with the rest: a ratio of speeds of up to about 3 (common practice, no
    source). Source: fan laws. A university text's problem: 1.8 kW at 20 degC become 1.685 kW at 40 degC (F003):

    >>> float(by_the_laws.bare(2.4, 340.0, 1.8, 1.0, 293.0 / 313.0)[2])
    1.685
    """
    return flow * speed_ratio, pressure * density_ratio * speed_ratio**2, power * density_ratio * speed_ratio**3


@quantities(
    "",
    temperature="K",
    altitude="m",
    at_least={"altitude": atmosphere.TROPOSPHERE[0]},
    at_most={"altitude": atmosphere.TROPOSPHERE[1]},
    source=_LAWS + "; ideal gas; US Standard Atmosphere 1976",
)
def density_factor(temperature, altitude, gas=None):
    """Density of a gas over that of standard air, 0.075 lb/ft3: what a fan's pressure and power are multiplied by.

    temperature: of the gas, K, 200 to 1600 K; altitude: above sea level, m, -1000 to 11000 m; gas: a `flue_gas.Gas`,
    dry air if left out; numbers or arrays that broadcast.

    Raises ValueError outside the ranges. Source: ideal-gas law; US Standard Atmosphere 1976.
    """
    gas = flue_gas.Gas.dry_air() if gas is None else gas
    pressure = atmosphere.standard_pressure.bare(altitude)
    return flue_gas.density.bare(gas, temperature, pressure) / _STANDARD


@quantities("Pa", pressure="Pa", density="kg/m**3", above={"density": 0.0}, source=_LAWS)
def to_standard_air(pressure, density):
    """Pressure to look up in a table of standard air for a duty in thin gas: p rho_standard / rho.

    pressure: wanted at the fan, Pa; density: of the gas there, kg/m3, above 0; numbers or arrays that broadcast. The
    volume flow is looked up as it is. Source: fan laws at one speed.
    """
    return pressure * _STANDARD / density


@quantities("Pa", pressure="Pa", density="kg/m**3", above={"density": 0.0}, source=_LAWS)
def from_standard_air(pressure, density):
    """Pressure that a fan makes in a gas where its table of standard air says ``pressure``: p rho / rho_standard.

    pressure: by the table, Pa; density: of the gas, kg/m3, above 0; numbers or arrays that broadcast.
    Source: fan laws at one speed.
    """
    return pressure * density / _STANDARD


_STANDARD = float(STANDARD_AIR.m_as("kg/m**3"))


# --- A fan ----------------------------------------------------------------------------------------------------


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
    def pressure_curve(self) -> PchipInterpolator:
        """f: static pressure [Pa] of the flow [m3/s], at rated speed and the curve's density."""
        return PchipInterpolator([p.flow for p in self.rated], [p.pressure for p in self.rated])

    @cached_property
    def power_curve(self) -> PchipInterpolator:
        """Shaft power [W] of the flow [m3/s], at rated speed and the curve's density."""
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


@quantities("Pa", **_POINT, **_POSSIBLE, source=_LAWS)
def static_pressure(fan, flow, speed, density):
    """Fan static pressure, rho/rho_curve n^2 f(q/n); past free flow and backwards the impeller's resistance.

    fan: `Fan`; flow: q, m3/s, any sign; speed: n, over the rated speed, at least 0; density: of the gas at the fan,
    kg/m3; numbers or arrays that broadcast. Smooth in flow and speed, also where the pressure is zero and at n = 0.

    Whether the fan may turn that fast, is another question (`Fan.most_speed`). Source: fan laws.
    """
    return density / fan.curve_density * _static(fan, flow, speed)


def _static(fan: Fan, flow, speed):
    """Static pressure of all the fans together, at the density of the curve."""
    flow = np.asarray(flow, float) / fan.abreast
    handed_on = 0.5 * fan.curve_density / fan.area**2 * flow * np.abs(flow)
    return fan.stages * _of_one(fan, flow, np.asarray(speed, float)) + (fan.stages - 1) * handed_on


def _of_one(fan: Fan, flow, speed):
    """Static pressure of a single fan, at the density of the curve."""
    free = fan.free_flow * speed
    inside = speed**2 * fan.pressure_curve(_on_curve(fan, flow, speed))
    a, b, resistance = fan.beyond
    beyond = a * speed**2 + (b * speed - resistance * flow) * flow
    a, b, resistance = fan.behind
    behind = a * speed**2 + (b * speed + resistance * flow) * flow
    return np.where(flow > free, beyond, np.where(flow < 0.0, behind, inside))


def _on_curve(fan: Fan, flow, speed):
    """q/n of a single fan, kept on the curve from zero to free flow; 0 where it stands still."""
    return np.clip(flow, 0.0, fan.free_flow * speed) / np.maximum(speed, 1e-12)


@quantities("W", **_POINT, **_POSSIBLE, source=_LAWS)
def shaft_power(fan, flow, speed, density):
    """Power at the shaft, rho/rho_curve n^3 g(q/n).

    fan: `Fan`; flow: q, m3/s; speed: n, over the rated speed, at least 0; density: of the gas at the fan, kg/m3;
    numbers or arrays that broadcast. Past free flow, and for flow that goes backwards, the power at that end of the
    curve.

    The motor and its drive lose more on top (their own efficiency is not known here). Source: fan laws.
    """
    flow, count = np.asarray(flow, float) / fan.abreast, fan.abreast * fan.stages
    return count * density / fan.curve_density * speed**3 * fan.power_curve(_on_curve(fan, flow, speed))


@quantities("", flow="m**3/s", speed="", at_least={"flow": 0.0}, above={"speed": 0.0}, source=_HYDRAULICS)
def efficiency(fan, flow, speed):
    """Static efficiency: flow times static pressure over shaft power; the density cancels.

    fan: `Fan`; flow: m3/s, at least 0; speed: over the rated speed, above 0; numbers or arrays that broadcast. Negative
    past free flow, where the fan only resists. Source: definition.
    """
    return flow * static_pressure.bare(fan, flow, speed, 1.0) / shaft_power.bare(fan, flow, speed, 1.0)


@quantities("m/s", flow="m**3/s", source="continuity")
def discharge_velocity(fan, flow):
    """Mean velocity in the outlet: q / A.

    fan: `Fan`; flow: m3/s, number or array. Source: continuity.
    """
    return flow / (fan.abreast * fan.area)


_HALVINGS = 52  # until the last bit


@quantities(
    "",
    flow="m**3/s",
    pressure="Pa",
    density="kg/m**3",
    at_least={"flow": 0.0},
    above={"density": 0.0},
    source=_LAWS,
)
def speed_for(fan, flow, pressure, density):
    """Speed, over the rated one, at which a fan makes this static pressure at this flow: inverse of `static_pressure`.

    fan: `Fan`; flow: m3/s, at least 0; pressure: fan static pressure, Pa, any sign; density: of the gas at the fan,
    kg/m3; numbers or arrays that broadcast.

    NaN where even the fan's most speed makes less. 0 where even the stopped impeller lets more through: there the draft
    is too strong and no fan can help. A speed below the fan's least is given as it is found. Source: fan laws.
    """
    wanted = pressure * fan.curve_density / density
    flow, wanted = np.broadcast_arrays(np.asarray(flow, float), np.asarray(wanted, float))
    low, high = np.zeros(flow.shape), np.full(flow.shape, fan.most_speed)
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        enough = _static(fan, flow, middle) >= wanted
        low, high = np.where(enough, low, middle), np.where(enough, middle, high)
    found = np.where(_static(fan, flow, 0.0) >= wanted, 0.0, high)
    return np.where(_static(fan, flow, fan.most_speed) < wanted, np.nan, found)[()]


@quantities(None, flow="m**3/s", speed="", at_least={"speed": 0.0}, source="common practice, no source")
def stalled(fan, flow, speed):
    """True where the fan turns and works left of its stall limit: q/n below the stall flow at rated speed.

    fan: `Fan`; flow: q, m3/s; speed: n, over the rated speed, at least 0; numbers or arrays that broadcast. There the
    pressure wavers, and two fans side by side no longer share. Source: common practice, no source.
    """
    flow, speed = np.asarray(flow, float), np.asarray(speed, float)
    return ((speed > 0.0) & (flow < speed * fan.abreast * float(fan.stall_flow.m_as("m**3/s"))))[()]


@quantities(None, speed="", at_least={"speed": 0.0}, source="common practice, no source")
def too_slow(fan, speed):
    """True where a speed is above zero and below the fan's least steady speed.

    fan: `Fan`; speed: over the rated one, at least 0, number or array. Source: common practice, no source.
    """
    speed = np.asarray(speed, float)
    return ((speed > 0.0) & (speed < fan.least_speed))[()]


@quantities("", density="kg/m**3", above={"density": 0.0}, source=_LAWS)
def motor_speed_limit(fan, density):
    """Speed, over the rated one, up to which the motor carries this gas at any flow: (P_motor rho_curve/(P rho))^(1/3).

    fan: `Fan`, with P the greatest shaft power of its curve; density: of the gas, kg/m3, above 0, number or array; cold
    air at start-up is the densest. At most the fan's most speed. Source: fan laws.
    """
    greatest = fan.most_power * density / fan.curve_density
    return np.minimum((float(fan.motor_power.m_as("W")) / greatest) ** (1.0 / 3.0), fan.most_speed)


def misfit(fan: Fan) -> float:
    """Greatest distance of the table's points from the curve carried by the laws, over shut-off pressure at that speed.

    At the rated speed the curve goes through its points, so only those at other speeds count.
    """
    shut = fan.rated[0].pressure
    return max(abs(p.pressure - float(_static(fan, p.flow, p.speed))) / (shut * p.speed**2) for p in fan.points)


# --- On a system ----------------------------------------------------------------------------------------------


@quantities(
    ("m**3/s", "Pa"),
    speed="",
    density="kg/m**3",
    constant="Pa",
    coefficient="Pa*s**2/m**6",
    at_least={"speed": 0.0},
    above={"density": 0.0, "coefficient": 0.0},
    source="equilibrium of fan and system",
)
def operating_point(fan, speed, density, constant, coefficient):
    """Flow and pressure where the fan's curve crosses the system's, p = a + k q|q|.

    fan: `Fan`; speed: over the rated one, at least 0; density: of the gas at the fan, kg/m3; constant: a, static
    pressure that the system asks for without flow, Pa, negative where it has draft to spare; coefficient: k, its
    resistance, Pa s2/m6, above 0, at this density; numbers or arrays that broadcast.

    Where a curve with a hump is crossed more than once, the crossing with the greatest flow, which is stable.
    Source: equilibrium.
    """
    speed, density, constant, coefficient = np.broadcast_arrays(speed, density, constant, coefficient)

    def surplus(flow):
        return static_pressure.bare(fan, flow, speed, density) - constant - coefficient * flow * np.abs(flow)

    # Far enough out the system asks for more than the fan gives, far enough backwards for less.
    start = fan.abreast * fan.free_flow * (speed + 0.1)
    flow = _last_crossing(surplus, _until(surplus, -0.01 * start, -1.0), _until(surplus, start, 1.0))
    return flow, constant + coefficient * flow * np.abs(flow)


@quantities(
    ("m**3/s", "Pa"),
    flows="m**3/s",
    pressures="Pa",
    speed="",
    density="kg/m**3",
    at_least={"speed": 0.0},
    above={"density": 0.0},
    source="equilibrium of fan and system",
)
def operating_point_on(fan, flows, pressures, speed, density):
    """Flow and pressure where the fan's curve crosses a system given by points, straight between them.

    fan: `Fan`; flows: rising, m3/s, array (n,); pressures: static pressure asked for at each, Pa, array (n,); speed:
    over the rated one, at least 0; density: of the gas at the fan, kg/m3; both numbers or arrays that broadcast.

    The crossing with the greatest flow; NaN where there is none between the first and the last point.
    Raises ValueError where the flows do not rise. Source: equilibrium.
    """
    flows, pressures = np.asarray(flows, float), np.asarray(pressures, float)
    if flows.ndim != 1 or flows.size < 2 or flows.shape != pressures.shape or np.any(np.diff(flows) <= 0.0):
        raise ValueError("flows must be two or more and rise, with one pressure each")
    speed, density = np.broadcast_arrays(np.asarray(speed, float), np.asarray(density, float))

    def surplus(flow):
        return static_pressure.bare(fan, flow, speed, density) - np.interp(flow, flows, pressures)

    ends = (np.full(speed.shape, flows[at]) for at in (0, -1))
    flow = _last_crossing(surplus, *ends)
    return flow, np.where(np.isnan(flow), np.nan, np.interp(flow, flows, pressures))[()]


_STEPS = 240  # of the search for the last crossing: a hump narrower than 1/240 of the range would be missed


def _last_crossing(surplus, low, high):
    """Greatest flow between two, where what the fan gives beyond what is asked falls through zero; NaN without one."""
    grid = low + (high - low) * np.linspace(0.0, 1.0, _STEPS + 1).reshape(-1, *([1] * np.ndim(low)))
    given = surplus(grid)
    falls = (given[:-1] >= 0.0) & (given[1:] < 0.0)
    last = np.where(falls.any(axis=0), _STEPS - 1 - np.argmax(falls[::-1], axis=0), 0)
    low, high = (np.take_along_axis(grid, (last + k)[None], axis=0)[0] for k in (0, 1))
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        enough = surplus(middle) >= 0.0
        low, high = np.where(enough, middle, low), np.where(enough, high, middle)
    return np.where(falls.any(axis=0), low, np.nan)[()]


def _until(surplus, flow, sign):
    """A flow far enough out on its side that ``surplus`` there has the other sign than ``sign``."""
    for _ in range(_HALVINGS):
        near = sign * surplus(flow) >= 0.0
        if not near.any():
            break
        flow = np.where(near, 2.0 * flow, flow)
    return flow


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


# --- In a vent ------------------------------------------------------------------------------------------------


def own_head(fan: Fan, flow, density, area):
    """Velocity head [Pa] by which the total pressure that a fan adds to a section exceeds its static pressure.

    Of a roof fan that of its section, which leaves with the gas; of an in-line fan that of its own outlet. ``flow``
    [m3/s], ``density`` [kg/m3], ``area`` of the section [m2]; numbers or arrays. Flow that goes backwards has none.
    """
    across = area if fan.kind == "roof" else fan.abreast * fan.area
    return friction.velocity_head.bare(density, np.maximum(flow, 0.0) / across)


@dataclass(frozen=True)
class Drive:
    """A fan in a vent whose speed may be set between two ratios to the rated one; equal ones are a fixed setting.

    Raises ValueError where they are not in order or the fan may not turn so fast. A least speed of 0 lets it stand
    still.
    """

    fan: Fan
    least_speed: float
    most_speed: float

    def __post_init__(self):
        if not 0.0 <= self.least_speed <= self.most_speed <= self.fan.most_speed * (1.0 + 1e-12):
            raise ValueError(
                f"speeds {self.least_speed:.3g} to {self.most_speed:.3g} of {self.fan.name}: "
                f"need 0 <= least <= most <= {self.fan.most_speed:.3g}"
            )

    def limits(self, flow, density, area):
        """Least and most total pressure [Pa] it can add.

        At ``flow`` [m3/s] of gas of ``density`` [kg/m3], in a section of ``area`` [m2]; numbers or arrays.
        """
        head = own_head(self.fan, flow, density, area)
        speeds = (self.least_speed, self.most_speed)
        return tuple(static_pressure.bare(self.fan, flow, speed, density) + head for speed in speeds)


# --- Tables of fans -------------------------------------------------------------------------------------------

_NUMBERS = {
    "outlet_diameter": {"in": "inch", "mm": "mm", "m": "m"},
    "rated_speed": {"rpm": "rpm"},
    "least_speed": {"rpm": "rpm"},
    "most_speed": {"rpm": "rpm"},
    "stall_flow": {"cfm": "cfm", "m3_s": "m**3/s", "m3_h": "m**3/hour"},
    "motor": {"hp": "horsepower", "W": "W", "kW": "kW"},
    "highest_temperature": {"F": "degF", "C": "degC"},
    "density": {"lb_ft3": "lb/ft**3", "kg_m3": "kg/m**3"},
    "stopped_loss": {"": ""},
    "speed": {"rpm": "rpm"},
    "flow": {"cfm": "cfm", "m3_s": "m**3/s", "m3_h": "m**3/hour"},
    "pressure": {"inwc": "inH2O", "Pa": "Pa"},
    "power": {"hp": "horsepower", "W": "W", "kW": "kW"},
}
_OF_A_POINT = ("speed", "flow", "pressure", "power")  # in every row; the rest in the first row of each fan
# column -> (what, unit)
_COLUMNS = {
    what + ("_" + suffix if suffix else ""): (what, unit)
    for what, suffixes in _NUMBERS.items()
    for suffix, unit in suffixes.items()
}
_WORDS = ("name", "kind", "condensate", "source", "status")
_AT_RATED = 5e-4  # a speed this near to the rated one is the rated one


class CurveError(ValueError):
    """A table of fans that cannot be used; ``problems`` holds one sentence a fault, with its line."""

    def __init__(self, problems: list[str]):
        super().__init__("\n".join(problems))
        self.problems = problems


def read_curve(text_or_path: str | Path) -> tuple[Fan, ...]:
    """The fans of a table in the form of data/draft/fans.csv: its text, or the path of a file.

    One row a point. The columns about the fan itself are filled in its first row and left empty, or repeated, in the
    others. A column's name ends with its unit: flow_cfm, flow_m3_s or flow_m3_h; pressure_inwc or pressure_Pa;
    power_hp, power_W or power_kW; and so on. The column condensate (yes or no; no where it is left out) says
    whether the fan may be wet. Lines that begin with # are not read.

    Raises `CurveError` that names every fault with its line.
    """
    text = str(text_or_path)
    if isinstance(text_or_path, Path) or "\n" not in text:
        text = Path(text_or_path).read_text(encoding="utf-8-sig")
    lines = [(k, line) for k, line in enumerate(text.splitlines(), start=1) if line.strip() and line[0] != "#"]
    if len(lines) < 2:
        raise CurveError(["the table is empty: it needs a line of column names and a row a point"])
    header = [name.strip() for name in next(csv.reader([lines[0][1]]))]
    problems = _faults_of_header(header, lines[0][0])
    if problems:
        raise CurveError(problems)
    rows = [(k, [cell.strip() for cell in next(csv.reader([line]))]) for k, line in lines[1:]]
    groups: dict[str, list[tuple[int, dict[str, Any]]]] = {}
    for line, cells in rows:
        row = _row(header, line, cells, problems)
        if row:
            groups.setdefault(row["name"], []).append((line, row))
    fans = [_fan(name, group, problems) for name, group in groups.items()]
    if problems:
        raise CurveError(problems)
    return tuple(fans)


def _faults_of_header(header: list[str], line: int) -> list[str]:
    known = [*_WORDS, *_COLUMNS]
    found = [
        f"line {line}: unknown column {name!r}; did you mean {get_close_matches(name, known, 1, 0.0)[0]}?"
        for name in header
        if name not in known
    ]
    have = [_COLUMNS[name][0] if name in _COLUMNS else name for name in header if name in known]
    found += [f"line {line}: {what} stands in {have.count(what)} columns" for what in set(have) if have.count(what) > 1]
    for what in ("name", "kind", *_NUMBERS):
        if what not in have:
            ways = [what + ("_" + suffix if suffix else "") for suffix in _NUMBERS.get(what, {"": ""})]
            found.append(f"line {line}: no column {' or '.join(ways)}")
    return sorted(found)


def _row(header: list[str], line: int, cells: list[str], problems: list[str]) -> dict[str, Any]:
    """What a row says, in SI; empty cells left out, faults told."""
    if len(cells) != len(header):
        problems.append(f"line {line}: {len(cells)} cells under {len(header)} column names")
        return {}
    row: dict[str, Any] = {}
    for column, cell in zip(header, cells, strict=True):
        if column in _WORDS:
            row |= {column: cell} if cell else {}
            continue
        what, unit = _COLUMNS[column]
        if not cell:
            if what in _OF_A_POINT:
                problems.append(f"line {line}: {column} is empty")
            continue
        try:
            row[what] = Q_(float(cell), unit)
            if not np.isfinite(row[what].m):
                raise ValueError
        except ValueError:
            problems.append(f"line {line}: {column} = {cell!r} is not a number")
    if "name" not in row:
        problems.append(f"line {line}: the fan's name is missing")
        return {}
    return row


def _fan(name: str, group: list[tuple[int, dict[str, Any]]], problems: list[str]) -> Fan | None:
    """The fan of the rows that bear its name, or None where something is wrong; what, is told."""
    start, before = group[0][0], len(problems)
    first = group[0][1]
    for line, row in group[1:]:
        for what in set(row) - {"name", "source", "status", *_OF_A_POINT}:
            if row[what] != first.get(what):
                problems.append(f"line {line}: {what} of {name} is another than in line {start}")
    for what in ("kind", *_NUMBERS):
        if what not in first and what not in _OF_A_POINT:
            problems.append(f"line {start}: {what} of {name} is missing in its first row")
    if len(problems) > before or any(what not in row for _, row in group for what in _OF_A_POINT):
        return None
    if first.get("condensate", "no") not in ("yes", "no"):
        problems.append(f"line {start}: condensate of {name} = {first['condensate']!r}: choose yes or no")
        return None
    try:
        return _made(name, first, [row for _, row in group])
    except ValueError as error:
        problems.append(f"line {start}: {error}")
        return None


def _made(name: str, first: dict[str, Any], rows: list[dict[str, Any]]) -> Fan:
    def ratio(speed: Quantity) -> float:
        found = float((speed / first["rated_speed"]).m_as(""))
        return 1.0 if abs(found - 1.0) < _AT_RATED else found

    points = tuple(
        Point(
            ratio(r["speed"]),
            *(float(r[w].m_as(u)) for w, u in zip(_OF_A_POINT[1:], ("m**3/s", "Pa", "W"), strict=True)),
        )
        for r in rows
    )
    return Fan(
        name=name,
        kind=first["kind"],
        outlet_diameter=first["outlet_diameter"],
        rated_speed=first["rated_speed"],
        least_speed=ratio(first["least_speed"]),
        most_speed=ratio(first["most_speed"]),
        stall_flow=first["stall_flow"],
        motor_power=first["motor"],
        highest_temperature=first["highest_temperature"],
        density=first["density"],
        stopped_loss=float(first["stopped_loss"].m),
        points=points,
        source=first.get("source", ""),
        status=first.get("status", ""),
        condensate=first.get("condensate") == "yes",
    )


@cache
def _shipped() -> dict[str, Fan]:
    return {fan.name: fan for fan in read_curve(tables.names()["fans"])}


def names(kind: str | None = None) -> tuple[str, ...]:
    """Names of the fans of data/draft/fans.csv, all of them invented; of one kind ("roof", "in-line") where it is
    given."""
    if kind is not None and kind not in KINDS:
        raise ValueError(f"kind of fan {kind!r}: choose {' or '.join(KINDS)}")
    return tuple(name for name, each in _shipped().items() if kind in (None, each.kind))


def fan(name: str) -> Fan:
    """The fan of data/draft/fans.csv of that name; ValueError says which there are, and the most alike."""
    try:
        return _shipped()[name]
    except KeyError:
        nearest = get_close_matches(str(name), names(), 1, 0.0)[0]
        raise ValueError(f"no fan named {name!r}; did you mean {nearest!r}? There are: {', '.join(names())}") from None


# --- Selection ------------------------------------------------------------------------------------------------

LEAST_MARGIN = 0.10  # of speed, for a vent that turns out tighter than drawn: common practice, no source
# m/s in the outlet, some 2,000 ft/min, from which on a discharge is usually heard nearby: common practice, no source.
# No sound power is known of any fan here.
HEARD = 10.0


@dataclass(frozen=True, eq=False)
class Candidate:
    """One fan on a set of duties; arrays have one value a state, plain SI.

    ``wanted``: static pressure [Pa]. ``needed``: speed that makes it, NaN beyond the fan's most speed, 0 where even
    standing still it lets too much through. ``speed`` it would run at: as needed, but not below its least nor above
    its most. ``excess`` [Pa] of what it then makes over what is wanted, negative where it is short. ``power`` [W] at
    the shaft. ``stalled`` where it works left of its stall limit. ``cold_power`` [W] at most, at the same speeds in
    cold air; ``mean_power`` [W] over the states by their shares. ``faults`` rule it out, ``cautions`` do not,
    ``merits`` speak for it: sentences with their numbers.
    """

    fan: Fan
    wanted: np.ndarray
    needed: np.ndarray
    speed: np.ndarray
    excess: np.ndarray
    power: np.ndarray
    stalled: np.ndarray
    cold_power: float
    mean_power: float
    faults: tuple[str, ...]
    cautions: tuple[str, ...]
    merits: tuple[str, ...]

    @property
    def fits(self) -> bool:
        """Whether nothing rules it out."""
        return not self.faults

    @property
    def margin(self) -> float:
        """Most speed over the highest that is needed, less 1; negative where it falls short."""
        if np.isnan(self.needed).any():
            return -1.0
        top = float(self.needed.max())
        return self.fan.most_speed / top - 1.0 if top > 0.0 else np.inf

    @property
    def slow(self) -> np.ndarray:
        """States in which it would have to turn more slowly than it can."""
        return too_slow.bare(self.fan, np.nan_to_num(self.needed))

    @property
    def turndown(self) -> float:
        """Highest over lowest speed among the states in which it turns."""
        turning = self.speed[self.speed > 0.0]
        return float(turning.max() / turning.min()) if turning.size else 1.0


@dataclass(frozen=True, eq=False)
class Selection:
    """Fans compared on the same duties: ``fitting`` best first, and the ``rejected``, nearest to fitting first."""

    fitting: tuple[Candidate, ...]
    rejected: tuple[Candidate, ...]

    @property
    def verdict(self) -> str:
        """What came of it, in a sentence."""
        count = len(self.fitting) + len(self.rejected)
        if not self.fitting:
            return f"None of the {count} fans fits."
        return f"{len(self.fitting)} of {count} fans fit; first stands {self.fitting[0].fan.name}."


@quantities(
    None,
    flow="m**3/s",
    pressure="Pa",
    density="kg/m**3",
    temperature="K",
    cold_density="kg/m**3",
    shares="",
    area="m**2",
    at_least={"flow": 0.0, "shares": 0.0},
    above={"density": 0.0, "cold_density": 0.0, "area": 0.0},
    source=_LAWS + "; ranking: common practice, no source",
)
def select(
    flow,
    pressure,
    density,
    temperature,
    cold_density,
    kind="roof",
    among=None,
    shares=None,
    area=None,
    system="US",
    wet=False,
):
    """Compare fans on the duties of all states: a `Selection`.

    flow: at the fan, m3/s; pressure: fan static pressure needed, Pa, any sign; density: of the gas there, kg/m3;
    temperature: of the gas there, K; arrays (states,) that broadcast. cold_density: of the coldest air at start-up,
    kg/m3. kind: "roof" or "in-line", or None for both; among: fans to choose from, those of data/draft/fans.csv if left
    out. shares: of the time, array (states,), all alike if left out. area: of the vent's section, m2; where given, an
    in-line fan with another outlet is asked for the static pressure that adds the same total pressure. system: "US"
    or "SI", of the sentences. wet: whether water condenses from the gas where the fan stands.

    Ruled out is a fan that falls short in any state, whose gas is too hot, whose motor is too weak, or that may not be
    wet and would be. Of those that
    fit, first come the ones with a tenth of speed to spare, then those with the fewest states under their least speed
    or left of their stall limit, then the smallest. Raises ValueError where there is no state or no fan. Source: fan
    laws.
    """
    flow, pressure, density, temperature = np.broadcast_arrays(
        *map(np.atleast_1d, (flow, pressure, density, temperature))
    )
    if kind is not None and kind not in KINDS:
        raise ValueError(f"kind of fan {kind!r}: choose {' or '.join(KINDS)}, or None for both")
    among = [fan(name) for name in names()] if among is None else among
    among = [each for each in among if kind in (None, each.kind)]
    if not flow.size or not among:
        raise ValueError("nothing to select: give at least one state and one fan of that kind")
    weights = np.broadcast_to(1.0 if shares is None else shares, flow.shape)
    duties = (flow, pressure, density, temperature, weights / weights.sum())
    found = [_candidate(each, duties, float(cold_density), area, bool(wet), system) for each in among]
    fitting = sorted((c for c in found if c.fits), key=_rank)
    rejected = sorted(
        (c for c in found if not c.fits),
        key=lambda c: (len(c.faults), float((c.excess < 0.0).sum()), -float(c.excess.min())),
    )
    return Selection(tuple(fitting), tuple(rejected))


def _rank(candidate: Candidate):
    unsteady = int((candidate.slow | candidate.stalled).sum())
    return candidate.margin < LEAST_MARGIN, unsteady, candidate.fan.outlet_diameter.m_as("m")


def _candidate(fan: Fan, duties: Sequence[np.ndarray], cold_density: float, area, wet: bool, system: str) -> Candidate:
    flow, pressure, density, temperature, weights = duties
    if area is not None and fan.kind == "in-line":
        pressure = pressure + friction.velocity_head.bare(density, flow / area) - own_head(fan, flow, density, area)
    needed = speed_for.bare(fan, flow, pressure, density)
    turning = np.where(np.isnan(needed), fan.most_speed, needed)
    speed = np.where(turning > 0.0, np.maximum(turning, fan.least_speed), 0.0)
    power = shaft_power.bare(fan, flow, speed, density)
    bare = Candidate(
        fan=fan,
        wanted=pressure,
        needed=needed,
        speed=speed,
        excess=static_pressure.bare(fan, flow, speed, density) - pressure,
        power=power,
        stalled=stalled.bare(fan, flow, speed),
        cold_power=float(np.max(power * np.maximum(cold_density / density, 1.0))),
        mean_power=float((power * weights).sum()),
        faults=(),
        cautions=(),
        merits=(),
    )
    said = _Sentences(bare, flow, density, temperature, cold_density, system, wet)
    return replace(bare, faults=said.faults(), cautions=said.cautions(), merits=said.merits())


def power_text(watts: float, system: str = "US") -> str:
    """A power at a shaft as the trade writes it: horsepower or watts."""
    if system == "US":
        return f"{float(Q_(watts, 'W').m_as('horsepower')):.3g} hp"
    return f"{watts:.0f} W"


@dataclass(frozen=True, eq=False)
class _Sentences:
    """What is said of a candidate, with the numbers."""

    of: Candidate
    flow: np.ndarray
    density: np.ndarray
    temperature: np.ndarray
    cold_density: float
    system: str
    wet: bool

    def show(self, value: float, unit: str) -> str:
        return show(Q_(float(value), unit), self.system)

    @property
    def motor(self) -> float:
        fan = self.of.fan
        return float(fan.motor_power.m_as("W")) * fan.abreast * fan.stages

    def faults(self) -> tuple[str, ...]:
        c, found = self.of, []
        short = np.isnan(c.needed)
        if short.any():
            k = int(np.argmin(np.where(short, c.excess, 0.0)))
            flow, free = self.flow[k], c.fan.abreast * c.fan.free_flow * c.fan.most_speed
            makes = f"its highest speed makes {self.show(c.wanted[k] + c.excess[k], 'Pa')}"
            if flow > free:
                makes = f"it is past all that its highest speed moves, {self.show(free, 'm**3/s')},"
            found.append(
                f"Falls short in {short.sum()} of {short.size} states: at {self.show(flow, 'm**3/s')} {makes} where "
                f"{self.show(c.wanted[k], 'Pa')} is needed."
            )
        hottest = float(self.temperature.max())
        if hottest > c.fan.highest_temperature.m_as("K"):
            allowed = show(c.fan.highest_temperature, self.system)
            found.append(f"Gas of {self.show(hottest, 'K')} is hotter than it may be: {allowed}.")
        most = float(c.power.max())
        if self.wet and not c.fan.condensate:
            found.append("Water condenses from the gas there, and it is not made to be wet.")
        if most > self.motor:
            found.append(f"Needs {self.power(most)} at the shaft; its motor gives {self.power(self.motor)}.")
        return tuple(found)

    def cautions(self) -> tuple[str, ...]:
        c, states, found = self.of, self.flow.size, []
        if 0.0 <= c.margin < LEAST_MARGIN:
            found.append(f"Only {c.margin:.0%} of speed to spare.")
        if c.slow.any():
            k = int(np.argmax(np.where(c.slow, c.excess, -np.inf)))
            found.append(
                f"In {c.slow.sum()} of {states} states it should turn more slowly than its least speed, "
                f"{c.fan.least_speed:.0%}; there it makes up to {self.show(c.excess[k], 'Pa')} too much, or cycles."
            )
        standing = c.needed == 0.0
        if standing.any():
            over = float(np.where(standing, c.excess, 0.0).max())
            found.append(
                f"In {standing.sum()} of {states} states the draft is too strong even past the stopped impeller, by "
                f"up to {self.show(over, 'Pa')}: no fan holds that back, a damper does."
            )
        if c.stalled.any():
            found.append(f"Works left of its stall limit in {c.stalled.sum()} of {states} states: the pressure wavers.")
        if c.cold_power > self.motor:
            limit = float(motor_speed_limit.bare(c.fan, self.cold_density))
            found.append(
                f"In cold air the same speed takes {self.power(c.cold_power)}, its motor gives "
                f"{self.power(self.motor)}: limit the speed to {limit:.0%} until the gas is warm."
            )
        standstill = float(np.max(-static_pressure.bare(c.fan, self.flow, 0.0, self.density)))
        found.append(f"Stopped, or failed, its impeller takes up to {self.show(standstill, 'Pa')} of the draft.")
        fastest = float(discharge_velocity.bare(c.fan, self.flow).max())
        if fastest > HEARD:
            found.append(f"Blows out at {self.show(fastest, 'm/s')}: it may be heard nearby.")
        return tuple(found)

    def merits(self) -> tuple[str, ...]:
        c = self.of
        if c.faults or np.isnan(c.needed).any() or not c.needed.any():
            return ()
        top = float(c.needed.max())
        return (
            f"Holds the hardest state at {top:.0%} of its rated speed ({c.fan.revolutions(top)}), with "
            f"{c.margin:.0%} to spare.",
            f"Takes {self.power(float(c.power.max()))} at most, {self.power(c.mean_power)} in the mean; in cold air "
            f"{self.power(c.cold_power)} of a motor of {self.power(self.motor)}.",
        )

    def power(self, watts: float) -> str:
        return power_text(watts, self.system)
