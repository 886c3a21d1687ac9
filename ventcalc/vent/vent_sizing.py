"""Vent sizing: one appliance, one vent; will it draw, what size, how far may it run.

A vent works where there is draft to spare (`margin`): behind a draft hood, where the draft pulls in the dilution
air of the design condition and something is left over; without one, where the outlet pressure stays below the
upper end of the appliance's window. That end is zero for category I, negative for a burner without a fan that
needs draft, positive for categories III and IV. Each question sets the margin to zero and solves for one thing:
`capacity`, `smallest_diameter`, `least_height`, `least_flue_temperature`, `longest_run`.

Every question takes a `Plant` of a single appliance, and arrays of sizes that stand in for those of its drawing.
The equations are those of `common_vent`, whose flows are given here; `operate` lets the draft find them.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from ventcalc.flow import fittings, friction, materials
from ventcalc.flow.materials import Material
from ventcalc.gas import atmosphere, combustion, condensation, flue_gas
from ventcalc.gas.appliance import CATEGORIES, Appliance
from ventcalc.gas.streams import AIR_VISCOSITY, VISCOSITY
from ventcalc.units import GRAVITY, Q_, Quantity, magnitude, quantities, show, ureg
from ventcalc.vent.common_vent import TOLERANCE, Solution, States, given_flows, solve
from ventcalc.vent.layout import Plant, Section, Termination
from ventcalc.vent.network import SIZE_CHANGE_ANGLE, Network, Season, compile_network, room_vapour

# Dry CO2 behind a draft hood burning natural or LP gas: the condition for which the chimney handbook's sheet prints
# 0.66 kg/MJ (combustion.csv C039, published).
HOOD_CO2 = 0.053

# Sizes that vents are sold in. Common practice, no source.
SIZES = {
    "US": ("inch", (3, 4, 5, 6, 7, 8, 9, 10, 12, 14, 16, 18, 20, 22, 24, 26, 28, 30, 32, 36, 40, 44, 48)),
    "SI": ("mm", (80, 100, 110, 125, 130, 150, 160, 180, 200, 225, 250, 300, 350, 400, 450, 500, 550, 600, 700, 800,
                  900, 1000, 1200)),
}  # fmt: skip

# Gas that rises slower than this spends so long in the vent that it cools, and a breath of wind turns it. Common
# practice, no source.
SLOW = Q_(3.0, "ft/s")

# Ends of what is searched [m, K]; a vent beyond them is not one vent of one appliance.
_WIDEST = 6.0  # times the outlet
_HEIGHTS = (0.3, 150.0)
_RUNS = (0.05, 300.0)
_HOTTEST = 800.0  # the solver's gas properties are fitted to 900 K
_VELOCITIES = (0.02, 60.0)  # m/s, between which the capacity is looked for

_STEPS = 48  # cases looked at between the ends, to find where the margin changes sign
_NEAR = 1e-11  # relative; where the search for a root ends


class NoAnswer(ValueError):
    """No value within the range searched lets the vent work, or all of them do."""


# --- The vent -------------------------------------------------------------------------------------------


def single_vent(
    appliance: Appliance,
    height: Quantity,
    diameter: Quantity,
    material: Material,
    run: Quantity = Q_(0.0, "ft"),
    connector: Material | None = None,
    connector_diameter: Quantity | None = None,
    fittings: tuple[str, ...] = (),
    cap: str = "low-resistance cap",
    place: str = "room",
    altitude: Quantity = Q_(0.0, "ft"),
) -> Plant:
    """The plant of one appliance on a level ``run`` with its ``fittings`` and then a rise of ``height`` to the cap.

    ``height`` is from the outlet (or its draft hood) to the cap, as code tables count it; ``place`` is what surrounds
    the rise. A ``connector`` of its own material and diameter serves the run. The room is open to outdoors at the
    outlet's height.
    """
    level = Section(
        "run", run, Q_(0.0, "m"), connector_diameter or diameter, connector or material, "rise", fittings=fittings
    )
    rise = Section("rise", height, height, diameter, material, "top", place=place)
    return Plant(
        name=f"{appliance.name} on its vent",
        altitude=altitude,
        opening_height=appliance.outlet_height,
        appliances=(appliance,),
        feeds=("run",),
        sections=(level, rise),
        terminations=(Termination("top", cap),),
    )


def is_upright(section: Section) -> bool:
    """Whether a section rises, and along nearly all of its length."""
    rise, length = section.rise.m_as("m"), section.length.m_as("m")
    return rise > 0.0 and rise >= 0.9 * length


def rise_section(plant: Plant) -> Section:
    """The last upright section before the termination: the one whose height is asked for."""
    upright = [s for s in _path(plant) if is_upright(s)]
    if not upright:
        raise ValueError(f"{plant.name}: no section of the vent is upright; draw the one whose height is asked for")
    return upright[-1]


def run_section(plant: Plant) -> Section:
    """The longest section that is not upright: the one whose run is asked for."""
    level = [s for s in _path(plant) if abs(s.rise.m_as("m")) < 0.9 * s.length.m_as("m") or s.length.m_as("m") == 0.0]
    if not level:
        raise ValueError(f"{plant.name}: every section of the vent is upright; draw the run that is asked for")
    return max(level, key=lambda s: s.length.m_as("m"))


def _path(plant: Plant) -> tuple[Section, ...]:
    if len(plant.appliances) != 1:
        raise ValueError(
            f"{plant.name} has {len(plant.appliances)} appliances; these questions are for one on its own vent "
            "(common_vent.solve takes many)"
        )
    return plant.path(plant.appliances[0].name)


# --- The margin -----------------------------------------------------------------------------------------


class _Vent:
    """A plant in one season as plain numbers, ready to be asked of many sizes at once."""

    def __init__(self, plant: Plant, season: Season, hood_co2: float, cold: bool):
        self.path, self.plant, self.season, self.cold = _path(plant), plant, season, cold
        self.appliance = plant.appliances[0]
        self.level = self.appliance.levels[-1]
        self.network: Network = compile_network(plant, (season,))
        self.code = self.appliance.states.index(self.level.name)
        # Flue gas per heat input, after what condenses inside the appliance has drained.
        self.flue_per_watt = self.network.prescribed[0][0, self.code] / self.level.heat_input.m_as("W")
        self.dilution = self._design_dilution(hood_co2)
        _refuse(self)
        names = [s.name for s in plant.order]
        self.rows = [names.index(s.name) for s in self.path]
        self.outlet = float(self.appliance.outlet_diameter.m_as("m"))
        self.widths = [float(s.diameter.m_as("m")) for s in self.path]
        self.roughness = [float(s.material.roughness.m_as("m")) for s in self.path]
        self.losses = [sum(fittings.fitting(f).loss for f in s.fittings) for s in self.path]
        self.drawn_sizes = {
            "heat_input": float(self.level.heat_input.m_as("W")),
            "diameter": self.widths[-1],
            "flue_temperature": float(self.level.flue_temperature.m_as("K")),
        }

    def _design_dilution(self, hood_co2: float) -> float:
        """Room air per flue gas [kg/kg] that thins the flue gas to ``hood_co2``; 0 without a hood."""
        if self.appliance.kind != "draft hood":
            return 0.0
        fuel, own = self.appliance.fuel, self.level.excess_air
        behind = float(combustion.excess_air_from_co2.bare(fuel, hood_co2))
        if behind < own:
            raise ValueError(
                f"hood_co2 = {hood_co2:.1%}: the flue gas of {self.appliance.name} is thinner before its draft hood"
            )
        thin, thick = (combustion.products.bare(fuel, ratio).mass_per_heat for ratio in (behind, own))
        return thin / thick - 1.0

    def margin(self, **sizes) -> np.ndarray:
        """Draft to spare [Pa]; sizes are plain SI arrays of one shape, those left out as drawn."""
        shape = np.broadcast_shapes(*(np.shape(v) for v in sizes.values()))
        flat = {name: np.broadcast_to(v, shape).ravel().astype(float) for name, v in sizes.items()}
        return self._margin(flat, int(np.prod(shape))).reshape(shape)

    def _margin(self, sizes: dict, count: int) -> np.ndarray:
        full = {name: sizes.get(name, np.full(count, v)) for name, v in self.drawn_sizes.items()}
        network = replace(self.network, pipes=self._pipes(sizes))
        flue = full["heat_input"] * self.flue_per_watt
        found = given_flows(
            network, _states(count, self.code, self.cold), flue, full["flue_temperature"], self.dilution * flue
        )
        if self.appliance.kind != "draft hood":
            return float(self.appliance.window[1].m_as("Pa")) - found.outlet_pressure[0]
        # What the hood costs the mixed gas is what `common_vent` charges for the way in from the room.
        entry = network.resistance[0][0, self.code] * (flue * (1.0 + self.dilution)) ** 2
        return found.room_gauge[0] - found.pressure_up[self.rows[0]] - entry

    def _pipes(self, sizes: dict) -> tuple:
        """The network's pipes with arrays of sizes in place of the drawn numbers."""
        pipes = list(self.network.pipes)
        if "height" in sizes:
            self._lengthen(pipes, rise_section(self.plant), sizes["height"], sizes["height"])
        if "run" in sizes:
            section = run_section(self.plant)
            self._lengthen(pipes, section, sizes["run"], float(section.rise.m_as("m")))
        if "diameter" in sizes:
            self._widen(pipes, sizes["diameter"])
        return tuple(pipes)

    def _lengthen(self, pipes: list, section: Section, length, rise) -> None:
        row = self.plant.order.index(section)
        pipe, low = pipes[row], self.plant.heights[section.name][0]
        thin = np.exp(-GRAVITY * (low + 0.5 * rise) / (287.05 * 288.15))  # as in `network`
        pipes[row] = replace(pipe, length=length, rise=rise, surface=np.pi * pipe.diameter * length, thin_air=thin)

    def _widen(self, pipes: list, diameter) -> None:
        """All sections as wide as the last one change together; the changes of size beside them follow."""
        widths = [diameter if abs(w / self.widths[-1] - 1.0) < 1e-9 else w for w in self.widths]
        for k, row in enumerate(self.rows):
            own, pipe, loss = widths[k], pipes[row], self.losses[k]
            loss = loss + (_step(self.outlet, own, own) if k == 0 else 0.0)
            loss = loss + (_step(own, widths[k + 1], own) if k + 1 < len(widths) else 0.0)
            pipes[row] = replace(
                pipe,
                diameter=own,
                area=np.pi * own**2 / 4.0,
                surface=np.pi * own * pipe.length,
                relative_roughness=self.roughness[k] / own,
                fixed_loss=loss,
            )


def _step(upstream, downstream, own):
    """K of a change of size on the velocity head of the diameter ``own``."""
    loss = fittings.size_change.bare(upstream, downstream, SIZE_CHANGE_ANGLE)
    return fittings.on_other_diameter.bare(loss, np.minimum(upstream, downstream), own)


def _states(count: int, code: int, cold: bool) -> States:
    """So many cases of the first season in calm, all firing at one level, the walls all ``cold`` or all hot."""
    return States(np.full((1, count), code), np.zeros(count, int), np.full(count, cold), np.zeros(count, bool))


def _refuse(vent: _Vent) -> None:
    """Raise where the vent may not serve the appliance at all."""
    appliance, category = vent.appliance, CATEGORIES[vent.appliance.category]
    flue, room = (
        float(vent.level.flue_temperature.m_as("K")),
        float(vent.network.place_temperature[vent.network.rooms[0], 0]),
    )
    hottest = Q_((flue + vent.dilution * room) / (1.0 + vent.dilution), "K")  # behind a hood, as diluted by design
    for section in vent.path:
        service = materials.Service(
            section.name,
            (appliance.category,),
            (appliance.fuel.kind,),
            section.place,
            hottest,
            appliance.window[1] if category.positive else Q_(0.0, "Pa"),
            category.condensing,
            section.material.name in appliance.named_materials,
        )
        found = materials.objections(section.material, service)
        if found:
            said = "; ".join(map(materials.sentence, found))
            raise ValueError(f"section {section.name} may not serve {appliance.name}: {said}")
    _refuse_narrow(appliance, min(s.diameter.m_as("m") for s in vent.path))


def _refuse_narrow(appliance: Appliance, diameter) -> None:
    outlet = appliance.outlet_diameter.m_as("m")
    if np.any(diameter < outlet * (1.0 - 1e-9)):
        raise ValueError(
            f"the vent is {Q_(float(np.min(diameter)), 'm').to('inch'):.3g~P} wide, less than the outlet of "
            f"{appliance.name}, {appliance.outlet_diameter.to('inch'):.3g~P}: a vent may not be narrower than the "
            "outlet it serves (capacity_tables knows the code's exception)"
        )


_UNITS = {"heat_input": "W", "diameter": "m", "height": "m", "run": "m", "flue_temperature": "K"}


def _plain(vent: _Vent, sizes: dict) -> dict:
    """Given sizes as plain SI; refuses what is unknown or impossible, by name."""
    unknown = set(sizes) - set(_UNITS)
    if unknown:
        raise TypeError(f"unknown size {', '.join(sorted(unknown))}; sizes are {', '.join(_UNITS)}")
    plain = {n: magnitude(v, ureg.Unit(_UNITS[n]), n) for n, v in sizes.items() if v is not None}
    for name, value in plain.items():
        if np.any(np.isnan(value)):
            raise ValueError(f"{name} is not a number (NaN)")
        least = 0.0 if name == "run" else np.nextafter(0.0, 1.0)
        if not np.all(np.asarray(value) >= least):
            shown = Q_(float(np.nanmin(value)), _UNITS[name])
            raise ValueError(f"{name} = {shown:.4g~P} must be {'at least' if name == 'run' else 'above'} 0")
    if "diameter" in plain:
        _refuse_narrow(vent.appliance, plain["diameter"])
    if "run" in plain and np.any(plain["run"] < abs(run_section(vent.plant).rise.m_as("m"))):
        raise ValueError(f"run: section {run_section(vent.plant).name} is no longer than it rises")
    if "flue_temperature" in plain:
        _refuse_temperature(vent, plain["flue_temperature"])
    return plain


def _refuse_temperature(vent: _Vent, kelvin) -> None:
    low = _coolest(vent)
    if np.any(kelvin < low) or np.any(kelvin > _HOTTEST):
        worst = np.min(kelvin) if np.any(kelvin < low) else np.max(kelvin)
        given, least, most = (f"{Q_(float(k), 'K').to('degC'):.4g~P}" for k in (worst, low, _HOTTEST))
        raise ValueError(
            f"flue_temperature = {given} must be {least} (the dew point, below which water stays in the appliance) "
            f"to {most}"
        )


def _coolest(vent: _Vent) -> float:
    """Dew point of the flue gas [K], or the room where that is warmer."""
    air = flue_gas.Gas.humid_air(room_vapour(vent.season, vent.network.pressure, vent.appliance.room))
    gas = combustion.products.bare(vent.appliance.fuel, vent.level.excess_air, air.h2o).gas
    return max(
        float(condensation.dew_point.bare(gas, vent.network.pressure)),
        float(vent.network.place_temperature[vent.network.rooms[0], 0]),
    )


def margin(plant: Plant, season: Season, hood_co2: float = HOOD_CO2, cold: bool = False, **sizes: Quantity) -> Quantity:
    """Draft to spare; positive where the vent works.

    ``plant`` of one appliance, at its highest level; ``sizes`` (heat_input, diameter, height, run, flue_temperature),
    numbers or arrays that broadcast, stand in for those of the drawing. ``hood_co2``: dry CO2 behind a draft hood
    at which it works as designed. ``cold``: all walls are still at the temperature of their surroundings. A given
    ``diameter`` is that of all sections as wide as the last one, ``height`` that of `rise_section`, ``run`` of
    `run_section`.

    Raises ValueError where the vent may not serve the appliance's category, temperature or pressure, is narrower
    than its outlet, or a size is not positive.
    """
    vent = _Vent(plant, season, hood_co2, cold)
    return Q_(vent.margin(**_plain(vent, sizes))[()], "Pa")


# --- The five questions ---------------------------------------------------------------------------------


def capacity(
    plant: Plant, season: Season, hood_co2: float = HOOD_CO2, cold: bool = False, **sizes: Quantity
) -> Quantity:
    """Greatest heat input that the vent takes; `margin` names the arguments.

    With little input the gas cools and draws badly, so that there is a least input as well: this is the upper
    end. One case without an answer raises `NoAnswer`; among many it is NaN.
    """
    vent, plain = _asked(plant, season, hood_co2, cold, sizes, "heat_input")
    diameter = np.asarray(plain.get("diameter", vent.drawn_sizes["diameter"]))
    per_velocity = np.pi * diameter**2 / 4.0 / (vent.flue_per_watt * (1.0 + vent.dilution))  # at 1 kg/m3
    ends = tuple(v * per_velocity for v in _VELOCITIES)
    words = "no heat input makes it draw", "it draws at every heat input"
    return Q_(_solve(vent, plain, "heat_input", ends, falling=True, words=words), "W")


def smallest_diameter(
    plant: Plant, season: Season, hood_co2: float = HOOD_CO2, cold: bool = False, **sizes: Quantity
) -> Quantity:
    """Smallest diameter at which the vent works, no smaller than the outlet; `margin` names the arguments.

    One case without an answer raises `NoAnswer`; among many it is NaN.
    """
    vent, plain = _asked(plant, season, hood_co2, cold, sizes, "diameter")
    outlet = float(vent.appliance.outlet_diameter.m_as("m"))
    words = f"no diameter up to {_WIDEST:g} times the outlet makes it work", ""
    return Q_(_solve(vent, plain, "diameter", (outlet, _WIDEST * outlet), falling=False, words=words), "m")


def least_height(
    plant: Plant, season: Season, hood_co2: float = HOOD_CO2, cold: bool = False, **sizes: Quantity
) -> Quantity:
    """Least height of the rise at which the vent works; `margin` names the arguments.

    One case without an answer raises `NoAnswer`; among many it is NaN. A vent that works at 0.3 m needs no more.
    """
    vent, plain = _asked(plant, season, hood_co2, cold, sizes, "height")
    words = f"no height up to {_HEIGHTS[1]:g} m makes it work", ""
    return Q_(_solve(vent, plain, "height", _HEIGHTS, falling=False, words=words), "m")


def least_flue_temperature(
    plant: Plant, season: Season, hood_co2: float = HOOD_CO2, cold: bool = False, **sizes: Quantity
) -> Quantity:
    """Least flue temperature at the appliance at which the vent works; `margin` names the arguments.

    Looked for between the dew point of the flue gas (or the room, where warmer) and 800 K. One case without an
    answer raises `NoAnswer`; among many it is NaN.
    """
    vent, plain = _asked(plant, season, hood_co2, cold, sizes, "flue_temperature")
    words = f"no flue temperature up to {_HOTTEST:g} K makes it work", ""
    ends = _coolest(vent), _HOTTEST
    return Q_(_solve(vent, plain, "flue_temperature", ends, falling=False, words=words), "K")


def longest_run(
    plant: Plant, season: Season, hood_co2: float = HOOD_CO2, cold: bool = False, **sizes: Quantity
) -> Quantity:
    """Greatest length of `run_section` at which the vent still works; `margin` names the arguments.

    That is what the physics allows. The appliance's instructions govern: a longer run voids its listing, whatever
    stands here. One case without an answer raises `NoAnswer`; among many it is NaN.
    """
    vent, plain = _asked(plant, season, hood_co2, cold, sizes, "run")
    least = max(_RUNS[0], abs(float(run_section(plant).rise.m_as("m"))))
    words = "no run makes it work", f"it works with any run up to {_RUNS[1]:g} m"
    return Q_(_solve(vent, plain, "run", (least, _RUNS[1]), falling=True, words=words), "m")


def _asked(plant: Plant, season: Season, hood_co2: float, cold: bool, sizes: dict, name: str) -> tuple[_Vent, dict]:
    if sizes.get(name) is not None:
        raise TypeError(f"{name} is what is asked for; leave it out")
    vent = _Vent(plant, season, hood_co2, cold)
    return vent, _plain(vent, sizes)


def _solve(vent: _Vent, plain: dict, name: str, ends: tuple, falling: bool, words: tuple[str, str]) -> np.ndarray:
    """The size ``name`` at which the margin is zero.

    ``falling``: the largest value up to which it works; else the smallest from which it works, which is the lower end
    where it works there already.
    """
    shape = np.broadcast_shapes(*(np.shape(v) for v in (*plain.values(), *ends)))
    fixed = {n: np.broadcast_to(v, shape).ravel().astype(float) for n, v in plain.items()}
    low, high = (np.broadcast_to(e, shape).ravel().astype(float) for e in ends)

    def margin(value):
        return vent.margin(**fixed, **{name: value})

    grid = np.geomspace(low, high, _STEPS)
    spare = margin(grid)
    for _ in range(3):  # it may work in a narrow range that the grid stepped over: look closer about the best
        lacking = (spare < 0.0).all(axis=0)
        if not lacking.any():
            break
        grid, spare = _about_the_best(margin, grid, spare, lacking)
    works = spare >= 0.0
    if falling:  # last step that works
        at = _STEPS - 1 - np.argmax(works[::-1], axis=0)
        found, ends_at = works.any(axis=0) & ~works[-1], np.full(low.shape, np.nan)
    else:  # step before the first that works
        at = np.argmax(works, axis=0) - 1
        found, ends_at = works.any(axis=0) & ~works[0], np.where(works[0], low, np.nan)
    at, cases = np.clip(at, 0, _STEPS - 2), np.arange(low.size)
    root = zero_between(margin, grid[at, cases], grid[at + 1, cases])
    answer = np.where(found, root, ends_at)
    if not shape and np.isnan(answer[0]):
        raise NoAnswer(f"{vent.plant.name}: {words[1] if works.any() else words[0]}")
    return answer.reshape(shape)[()]


def _about_the_best(margin: Callable, grid: np.ndarray, spare: np.ndarray, where: np.ndarray):
    """The grid and its margins, ``where`` nothing works replaced by a grid between the neighbours of the best."""
    best, cases = np.argmax(spare, axis=0), np.arange(grid.shape[1])
    low, high = grid[np.maximum(best - 1, 0), cases], grid[np.minimum(best + 1, _STEPS - 1), cases]
    finer = np.where(where, np.geomspace(low, high, _STEPS), grid)
    return finer, margin(finer)


def zero_between(function: Callable, low: np.ndarray, high: np.ndarray) -> np.ndarray:
    """Roots of a function of arrays, each within its own bracket; plain arrays.

    False position by Illinois' rule (an end that stays twice in a row counts half), halved where that is slow.
    NaN where the function has one sign at both ends.
    """
    low, high = np.array(low, float), np.array(high, float)
    at_low, at_high = function(low), function(high)
    done, small = at_low * at_high > 0.0, 1e-9 * np.maximum(np.abs(at_low), np.abs(at_high))
    middle = np.full(low.shape, np.nan)
    for turn in range(200):
        before = middle
        with np.errstate(divide="ignore", invalid="ignore"):
            middle = (low * at_high - high * at_low) / (at_high - at_low)
        inside = (middle > np.minimum(low, high)) & (middle < np.maximum(low, high))
        middle = np.where(inside & (turn % 8 != 7), middle, 0.5 * (low + high))
        middle = np.where(done, before, middle)  # what is found stays
        value = function(middle)
        same = np.sign(value) == np.sign(at_high)
        # The end that is replaced keeps the bracket; the other one, kept again, counts half.
        low, at_low = np.where(same, low, high), np.where(same, 0.5 * at_low, at_high)
        high, at_high = middle, value
        still = np.abs(middle - before) <= _NEAR * np.abs(middle)
        done |= (still & (np.abs(value) <= small)) | (value == 0.0)
        if done.all():
            break
    return middle


# --- What it does as built ------------------------------------------------------------------------------


@dataclass(frozen=True)
class Operation:
    """A vent at work, as quantities: what the draft itself makes of it.

    ``drawn`` room air through hood or regulator (negative: flue gas spills into the room), ``co2`` dry behind it,
    ``outlet_pressure`` static against the room, ``margin`` to spare, ``velocity`` in the rise, gas at its ``top``,
    coldest ``wall`` and ``dew_point``, total ``draft`` and ``loss``; ``solution`` has the rest.
    """

    plant: Plant
    season: Season
    heat_input: Quantity
    drawn: Quantity
    co2: float
    outlet_pressure: Quantity
    margin: Quantity
    velocity: Quantity
    top: Quantity
    wall: Quantity
    dew_point: Quantity
    draft: Quantity
    loss: Quantity
    solution: Solution

    @property
    def spills(self) -> bool:
        """Whether flue gas enters the room."""
        return bool(self.drawn.m_as("kg/s") < 0.0)

    @property
    def works(self) -> bool:
        """Whether there is draft to spare."""
        return bool(self.margin.m_as("Pa") >= -TOLERANCE)

    @property
    def wet(self) -> bool:
        """Whether a wall lies below the dew point with the vent hot."""
        return bool(self.wall.m_as("K") < self.dew_point.m_as("K"))


def operate(plant: Plant, season: Season, hood_co2: float = HOOD_CO2, heat_input: Quantity | None = None) -> Operation:
    """The vent at work at one heat input (left out: the highest level): dilution air is what the draft draws.

    Raises as `margin` does.
    """
    vent = _Vent(plant, season, hood_co2, cold=False)
    if heat_input is not None:
        _plain(vent, {"heat_input": heat_input})
        plant = with_input(plant, heat_input)
    level = plant.appliances[0].levels[-1]
    found = solve(plant, (season,), _states(1, vent.code, cold=False))
    rise = found.row(vent.path[-1].name)
    vapour = float(found.vapour[0, 0]) * vent.network.pressure
    drawn = float(found.drawn[0, 0])
    spare = vent.margin(heat_input=np.array([level.heat_input.m_as("W")]))[0]
    return Operation(
        plant=plant,
        season=season,
        heat_input=level.heat_input,
        drawn=Q_(drawn, "kg/s"),
        co2=_co2_behind(vent, max(drawn, 0.0) / level.heat_input.m_as("W")),
        outlet_pressure=Q_(float(found.outlet_pressure[0, 0]), "Pa"),
        margin=Q_(float(spare), "Pa"),
        velocity=Q_(float(found.velocity[rise, 0]), "m/s"),
        top=Q_(float(found.downstream[rise, 0]), "K"),
        wall=Q_(float(found.wall[:, 0].min()), "K"),
        dew_point=Q_(float(atmosphere.saturation_temperature.bare(vapour)), "K"),
        draft=Q_(float(found.draft[:, 0].sum()), "Pa"),
        loss=Q_(float(found.loss[:, 0].sum()), "Pa"),
        solution=found,
    )


def with_input(plant: Plant, heat_input: Quantity) -> Plant:
    """The plant with another heat input of its appliance's highest level; its flue gas stays as it is per heat."""
    appliance = plant.appliances[0]
    levels = (*appliance.levels[:-1], replace(appliance.levels[-1], heat_input=heat_input))
    return replace(plant, appliances=(replace(appliance, levels=levels),))


def _co2_behind(vent: _Vent, air_per_heat: float) -> float:
    """Dry CO2 once so much room air [kg/J] has joined: the flue gas of that much more excess air."""
    fuel, own = vent.appliance.fuel, vent.level.excess_air
    vapour = room_vapour(vent.season, vent.network.pressure, vent.appliance.room)
    theoretical = combustion.products.bare(fuel, 0.0, vapour).air_per_heat
    return float(combustion.products.bare(fuel, own + air_per_heat / theoretical, vapour).co2_dry)


def cautions(operation: Operation, system: str = "US") -> tuple[str, ...]:
    """What speaks against a vent at work, one sentence each, the gravest first; empty where nothing does."""
    found = []
    if operation.spills:
        found.append(f"flue gas spills into the room: {show(-operation.drawn, system)}")
    elif not operation.works:
        hood = operation.plant.appliances[0].kind == "draft hood"
        lacking = show(-operation.margin, system)
        found.append(
            f"{lacking} of draft is lacking for the hood's design dilution"
            if hood
            else f"the outlet pressure is {lacking} above its window"
        )
    if operation.velocity < SLOW:
        found.append(
            f"the vent is large for this input: gas rises at {show(operation.velocity, system)}, slower than "
            f"{show(SLOW, system)} (common practice, no source), and cools to {show(operation.top, system)} at the top"
        )
    condensing = CATEGORIES[operation.plant.appliances[0].category].condensing
    if operation.wet and not condensing:
        wall, dew_point = show(operation.wall, system), show(operation.dew_point, system)
        found.append(f"the wall cools to {wall}, below the dew point of {dew_point}: it stays wet while hot")
    return tuple(found)


def equivalent_length(plant: Plant, season: Season, heat_input: Quantity | None = None) -> Quantity:
    """Length of straight pipe that loses as much as the whole vent: lengths, and K D / f of each fitting and the cap.

    ``plant`` of one appliance, ``heat_input`` (left out: the highest level). An appliance's instructions may give
    lengths of their own for elbows; those govern.
    """
    found = operate(plant, season, heat_input=heat_input).solution
    metres, network = 0.0, compile_network(plant, (season,))
    for section in _path(plant):
        row, pipe = found.row(section.name), network.pipes[found.row(section.name)]
        gas = network.gas[0][VISCOSITY, 0, -1]
        viscosity = gas * np.polyval(AIR_VISCOSITY, found.upstream[row, 0])
        reynolds = friction.reynolds.bare(found.flow[row, 0], pipe.diameter, viscosity)
        factor = friction.friction_factor.bare(reynolds, pipe.relative_roughness)
        metres += pipe.length + fittings.equivalent_length.bare(pipe.fixed_loss + pipe.end_loss, pipe.diameter, factor)
    return Q_(float(metres), "m")


def next_size(diameter: Quantity, system: str = "US") -> Quantity:
    """The smallest size of `SIZES` that is no smaller; ValueError beyond the largest."""
    unit, sizes = SIZES[system]
    wanted = float(magnitude(diameter, ureg.Unit("m"), "diameter"))
    for size in sizes:
        if Q_(size, unit).m_as("m") >= wanted * (1.0 - 1e-9):
            return Q_(float(size), unit)
    raise ValueError(f"diameter {diameter:.4g~P} is beyond the largest size sold, {sizes[-1]} {unit}")


# --- By hand: two columns and no friction -----------------------------------------------------------------


@quantities(
    "m",
    draft="Pa",
    outdoor_density="kg/m**3",
    gas_density="kg/m**3",
    at_least={"draft": 0.0},
    above={"outdoor_density": 0.0, "gas_density": 0.0},
    source="Hydrostatics: theoretical draft solved for its height",
)
def height_for_draft(draft, outdoor_density, gas_density):
    """Height whose theoretical draft is ``draft``, ``H = D / (g (rho_outdoor - rho_gas))``; no loss is counted.

    draft [Pa], outdoor_density and gas_density [kg/m3]; scalars or arrays. Raises where the gas is not lighter than
    outdoor air: no height makes it draw. Example: 230 Pa, 1.2 and 0.79 kg/m3: 57.18 m in a public exercise sheet
    that takes g = 9.81; 57.20 here.
    """
    if np.any(gas_density >= outdoor_density):
        raise ValueError(
            f"height_for_draft: gas_density = {np.max(gas_density):.4g} kg/m3 must be below outdoor_density = "
            f"{np.min(outdoor_density):.4g} kg/m3"
        )
    return draft / (GRAVITY * (outdoor_density - gas_density))


@quantities(
    "m/s",
    draft="Pa",
    gas_density="kg/m**3",
    at_least={"draft": 0.0},
    above={"gas_density": 0.0},
    source="Bernoulli, no friction",
)
def frictionless_velocity(draft, gas_density):
    """Velocity at which all the draft leaves as velocity head, ``v = sqrt(2 D / rho)``: more than any vent reaches.

    draft [Pa], gas_density [kg/m3]; scalars or arrays. Raises for a negative draft or a density that is not positive.
    """
    return np.sqrt(2.0 * draft / gas_density)
