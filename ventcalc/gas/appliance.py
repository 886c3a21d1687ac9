"""Appliances: what each one makes, what it wants at its outlet, and what it does while idle.

Three kinds. A **forced** burner sets its own flue gas flow whatever the vent does. A **draft hood** and
a **barometric** regulator let the vent draw room air by its own pull; a hood that the vent does not pull
spills flue gas into the room. While idle an outlet is **sealed** or **leaking** through a stated
resistance; a hood or regulator stays open.
"""

from dataclasses import dataclass, field

import numpy as np

from ventcalc.door import door
from ventcalc.gas import combustion, condensation, flue_gas
from ventcalc.gas.fuels import Fuel
from ventcalc.units import Q_, Quantity, magnitude, quantities, ureg
from ventcalc.words import Remark

# How an idle forced burner leaks where nobody says: as one without any flap, whose passages take the flue gas of full
# fire with this pressure, and so room air or a neighbor's flue gas while it stands still (common practice, no source;
# fans of forced burners give 200 to 1500 Pa, and the less they need the more open they are).
OPEN_PRESSURE = Q_(2.0, "inH2O")
# What a flap against backflow lets pass of that, where its leak is not told (common practice, no source).
FLAP_SHARE = 0.1
_AIR_DENSITY = Q_(1.2, "kg/m**3")  # of air at 20 degC, for a guess

KINDS = ("forced", "draft hood", "barometric")
IDLE = ("sealed", "leaking")

# Loss of total pressure where room air enters, on the velocity head of the outlet. The handbook's inlet
# acceleration (from memory, losses.csv L005 and L006) is 1.5 for a hood, one head of which is no loss but the
# gas's own velocity; for a regulator it is 0.5.
ENTRY_LOSS = {"draft hood": 0.5, "barometric": 0.5}

# Loss of total pressure of gas that comes out into the room, on its own velocity head in the outlet: a free jet loses
# all of it (Borda and Carnot; any fluid mechanics textbook), and a hood or flap in its way can only add to that.
EXIT_LOSS = 1.0

DISCHARGE = 0.6  # of a sharp-edged opening, such as a joint that stands open (common practice, no source)


@dataclass(frozen=True)
class Category:
    """A vent category: outlet pressure positive or not, gas condensing or not (IFGC definitions)."""

    name: str
    positive: bool
    condensing: bool


CATEGORIES = {
    c.name: c
    for c in (
        Category("I", positive=False, condensing=False),
        Category("II", positive=False, condensing=True),
        Category("III", positive=True, condensing=False),
        Category("IV", positive=True, condensing=True),
    )
}


# What divides condensing from not, two rules of thumb for the tests of the appliance standards.
CONDENSING_LOSS = 0.17  # of the heat input (HHV); less flue loss condenses (published, K005 of categories_checks.csv)
CONDENSING_MARGIN = Q_(140.0, "delta_degF").m_as("delta_degC")  # above the dew point (from memory, K007)


@quantities(
    None,
    outlet_pressure="Pa",
    flue_loss="",
    margin="delta_degC",
    at_least={"flue_loss": 0.0},
    at_most={"flue_loss": 1.0},
    shapes=dict.fromkeys(("outlet_pressure", "flue_loss", "margin"), "one"),
    source="IFGC definitions of vented appliance categories; 17 % flue loss: a venting explainer; "
    "140 F above the dew point: ANSI Z21.13 and Z21.47 (from memory)",
)
def classify(outlet_pressure, flue_loss=None, margin=None):
    """The vent `Category` that an outlet pressure and one sign of condensing indicate.

    Positive where outlet_pressure [Pa, gauge] is above zero, non-positive at zero and below. Condensing where
    flue_loss, the share of the heat input (HHV) that leaves with the flue gas, latent heat included, is below 17 %;
    or where margin, the flue temperature less its dew point [temperature difference], is below 140 F (78 K; from
    memory). Give one of the two: they do not always agree. All single numbers.

    An indication: the category of a product is what its listing says, from tests at stated conditions. Raises
    ValueError unless exactly one sign is given, and for a loss outside 0 to 1.
    """
    if (flue_loss is None) == (margin is None):
        raise ValueError("classify: give either flue_loss or margin above the dew point, not both or none")
    condensing = flue_loss < CONDENSING_LOSS if margin is None else margin < CONDENSING_MARGIN
    wanted = (bool(outlet_pressure > 0.0), bool(condensing))
    return next(c for c in CATEGORIES.values() if (c.positive, c.condensing) == wanted)


@door(highest_pressure="Pa")
def sharing_objections(categories: tuple[str, ...], highest_pressure: Quantity) -> tuple[Remark, ...]:
    """What speaks against appliances of these categories on one common vent; empty where nothing does.

    ``highest_pressure`` is the highest gauge pressure anywhere in the common vent. Common venting is also a matter of
    the appliances' instructions and of an engineered design, whatever the categories. Raises ValueError for an
    unknown category.
    """
    kinds = [CATEGORIES[c] for c in categories] if set(categories) <= set(CATEGORIES) else None
    if kinds is None:
        raise ValueError(f"categories {', '.join(categories)}; choose {', '.join(CATEGORIES)}")
    found, positive = [], float(highest_pressure.m_as("Pa")) > 0.0
    if positive and not all(k.positive for k in kinds):
        found.append(Remark("gas", "sharing", "sharing_positive", {"pressure": highest_pressure}))
    if positive and len(kinds) > 1:
        found.append(Remark("gas", "sharing", "sharing_idle", {}))
    if len({k.condensing for k in kinds}) > 1:
        found.append(Remark("gas", "sharing", "sharing_mixed", {}))
    return tuple(found)


@dataclass(frozen=True)
class FiringLevel:
    """One firing level: ``heat_input`` on the higher heating value, ``excess_air`` ratio, ``flue_temperature``."""

    name: str
    heat_input: Quantity
    excess_air: float
    flue_temperature: Quantity

    def __post_init__(self):
        if not magnitude(self.heat_input, ureg.Unit("W"), f"heat input of level {self.name}") > 0:
            raise ValueError(f"heat input of level {self.name} = {self.heat_input:~P} must be above 0")
        if not 0 <= self.excess_air <= 20:
            raise ValueError(f"excess air of level {self.name} = {self.excess_air:g} must be 0 to 20 (0.3 is 30 %)")
        kelvin = magnitude(self.flue_temperature, ureg.Unit("K"), f"flue temperature of level {self.name}")
        if not 273.15 <= kelvin <= 1300.0:
            raise ValueError(
                f"flue temperature of level {self.name} = {self.flue_temperature:.4g~P} must be 0 to 1025 degC"
            )


@dataclass(frozen=True)
class Leak:
    """Idle leakage through an appliance: ``flow`` of room air at ``pressure`` difference."""

    flow: Quantity = field(default_factory=lambda: Q_(0.0, "m**3/s"))
    pressure: Quantity = field(default_factory=lambda: Q_(25.0, "Pa"))


def assumed_leak(fuel: Fuel, levels: tuple[FiringLevel, ...], flap: bool = False) -> Leak:
    """How an idle forced burner is taken to leak where it is not told, the worse: as wide open as while it fires.

    The flue gas of its largest level passes with `OPEN_PRESSURE`; of that, `FLAP_SHARE` where it has a flap against
    backflow. Common practice, no source.
    """
    largest = max(levels, key=lambda level: level.heat_input)
    per_heat = Q_(combustion.products(fuel, largest.excess_air).mass_per_heat, "kg/J")
    flow = (largest.heat_input * per_heat / _AIR_DENSITY).to("m**3/s")
    return Leak(flow * (FLAP_SHARE if flap else 1.0), OPEN_PRESSURE)


@dataclass(frozen=True)
class Appliance:
    """An appliance as the vent sees it.

    ``window`` is the lowest and highest outlet pressure its instructions allow, gauge against the room at
    the outlet's height. ``outlet_height`` is measured from the boiler-room floor. ``purge_flow`` is the
    room air its fan blows through while purging (None: it does not purge); ``purge_pressure`` the lowest and highest
    outlet pressure allowed meanwhile (None: not stated, so that the window holds). ``regulator_draft`` is the draft a
    barometric draft control holds. ``longest_run`` is the equivalent length its instructions allow (None:
    not stated). ``room`` is where it stands: the boiler room, "room", or one of `layout.Plant.places`. ``joint`` is
    the free area through which its connector is open to the room whatever it does (a seam, a hole); ``opening`` the
    share of its regulator's or hood's way in that is free.
    """

    name: str
    fuel: Fuel
    category: str
    levels: tuple[FiringLevel, ...]
    outlet_diameter: Quantity
    outlet_height: Quantity
    window: tuple[Quantity, Quantity]
    kind: str = "forced"
    idle: str = "sealed"
    leak: Leak = Leak()
    purge_flow: Quantity | None = None
    regulator_draft: Quantity | None = None
    longest_run: Quantity | None = None
    named_materials: tuple[str, ...] = ()
    room: str = "room"
    purge_pressure: tuple[Quantity, Quantity] | None = None
    joint: Quantity = Q_(0.0, "m**2")
    opening: float = 1.0

    def __post_init__(self):
        self._known_names()
        self._sound_sizes()
        self._sound_purge()
        self._sound_regulator()
        if self.idle == "leaking" and not magnitude(self.leak.flow, ureg.Unit("m**3/s"), f"{self.name}: leak") > 0:
            raise ValueError(f"{self.name}: idle = leaking needs a leak flow above 0, such as 5 cfm at 25 Pa")

    @property
    def listed_categories(self) -> tuple[str, ...]:
        """What a vent must be listed for to serve it: its category; of oil none, which chimneys and Type L vents take
        by fuel, temperature and pressure."""
        return () if self.fuel.kind == "liquid" else (self.category,)

    @property
    def shown_category(self) -> str:
        """Its category as told: of oil that of gas by whose rules it is held, for oil has none (IFGC definitions)."""
        return self.category if self.fuel.kind == "gas" else f"{self.category} (oil)"

    def _known_names(self) -> None:
        """Raises ValueError for an unknown kind, idle or category, and for firing levels that cannot be told apart."""
        if self.kind not in KINDS:
            raise ValueError(f"{self.name}: kind {self.kind!r}; choose {', '.join(KINDS)}")
        if self.idle not in IDLE:
            raise ValueError(f"{self.name}: idle {self.idle!r}; choose {', '.join(IDLE)}")
        if self.category not in CATEGORIES:
            raise ValueError(f"{self.name}: category {self.category!r}; choose {', '.join(CATEGORIES)}")
        if not self.levels:
            raise ValueError(f"{self.name}: give at least one firing level")
        levels = [lv.name for lv in self.levels]
        if len(set(levels)) < len(levels) or set(levels) & {"off", "purge"}:
            raise ValueError(
                f"{self.name}: firing levels {', '.join(levels)} must differ, and not be named off or purge"
            )

    def _sound_sizes(self) -> None:
        """Raises ValueError for a size that is not positive and for a window in the wrong order."""
        for quantity, unit, what in (
            (self.outlet_diameter, "m", "outlet diameter"),
            (self.purge_flow, "m**3/s", "purge flow"),
            (self.longest_run, "m", "longest run"),
            (self.leak.pressure, "Pa", "leak pressure"),
        ):
            if quantity is not None and not magnitude(quantity, ureg.Unit(unit), f"{self.name}: {what}") > 0:
                raise ValueError(f"{self.name}: {what} {quantity:.4g~P} must be above 0")
        magnitude(self.outlet_height, ureg.Unit("m"), f"{self.name}: outlet height")
        if not magnitude(self.joint, ureg.Unit("m**2"), f"{self.name}: joint") >= 0.0:
            raise ValueError(f"{self.name}: joint {self.joint:.4g~P} must not be negative")
        if not 0.0 < self.opening <= 1.0:
            raise ValueError(f"{self.name}: opening {self.opening:g} must be above 0 and at most 1")
        low, high = (magnitude(p, ureg.Unit("Pa"), f"{self.name}: window") for p in self.window)
        if not low < high:
            raise ValueError(
                f"{self.name}: window {self.window[0]:~P} to {self.window[1]:~P} must run from lower to higher"
            )

    def _sound_regulator(self) -> None:
        """Raises ValueError for a regulator draft that is no draft, or that stands where there is no regulator."""
        opens = self.regulator_draft
        if opens is not None and not magnitude(opens, ureg.Unit("Pa"), f"{self.name}: regulator draft") < 0:
            raise ValueError(f"{self.name}: regulator draft {opens:.4g~P} must be below 0: negative is draft")
        if (self.kind == "barometric") != (self.regulator_draft is not None):
            raise ValueError(f"{self.name}: regulator_draft belongs to kind barometric, and must be given there")

    def _sound_purge(self) -> None:
        """Raises ValueError for purge limits of an appliance that does not purge, or in the wrong order."""
        if self.purge_pressure is None:
            return
        if self.purge_flow is None:
            raise ValueError(f"{self.name}: purge_pressure belongs to an appliance that purges; give its purge_flow")
        low, high = (magnitude(p, ureg.Unit("Pa"), f"{self.name}: purge_pressure") for p in self.purge_pressure)
        if not low < high:
            raise ValueError(
                f"{self.name}: purge_pressure {self.purge_pressure[0]:~P} to {self.purge_pressure[1]:~P} must run from "
                "lower to higher"
            )

    @property
    def states(self) -> tuple[str, ...]:
        """Names of what it can be doing: "off", "purge" where it purges, then its firing levels."""
        return ("off", *(["purge"] if self.purge_flow is not None else []), *(lv.name for lv in self.levels))


STANDING = ("off", "purge")  # names of what an appliance does while it does not fire


@dataclass(frozen=True)
class Stream:
    """What an appliance sends into its vent in one of its states: plain kg/s and K, and the gas."""

    mass_flow: float | np.ndarray
    temperature: float | np.ndarray
    gas: flue_gas.Gas


def stream(appliance: Appliance, state: str, room_temperature, pressure: float, room_gas: flue_gas.Gas) -> Stream:
    """The stream of an appliance in one of its ``states``; plain SI (K, Pa absolute), one room or arrays of many.

    Firing: flue gas of its fuel and excess air, burnt with room air; where it leaves below its dew point,
    saturated, the rest drained inside the appliance. Purging: room air. Off: nothing flows by itself.
    Raises ValueError for a state that it does not have.
    """
    if state not in appliance.states:
        raise ValueError(f"{appliance.name} has no state {state!r}; it has {', '.join(appliance.states)}")
    if state == "off":
        return Stream(0.0, room_temperature, room_gas)
    if state == "purge":
        density = flue_gas.density.bare(room_gas, room_temperature, pressure)
        return Stream(appliance.purge_flow.m_as("m**3/s") * density, room_temperature, room_gas)
    level = next(lv for lv in appliance.levels if lv.name == state)
    burnt = combustion.products.bare(appliance.fuel, level.excess_air, room_gas.h2o)
    heat_input, temperature = level.heat_input.m_as("W"), float(level.flue_temperature.m_as("K"))
    return firing_stream(burnt, heat_input, temperature, pressure)


def firing_stream(burnt: combustion.Products, heat_input: float, temperature: float, pressure: float) -> Stream:
    """What a burner of a heat input [W] sends at a temperature [K]; plain SI.

    Below its dew point the gas leaves saturated, the rest drained.
    """
    gas, condensed = condensation.saturated.bare(burnt.gas, temperature, pressure)
    return Stream(heat_input * burnt.mass_per_heat * (1.0 - condensed), temperature, gas)


def entry_resistance(appliance: Appliance, state: str, density):
    """Resistance R [1/(kg m)] of the way from the room into the vent, ``dp = R m |m|``; inf where it is shut.

    A hood or regulator is open in every state; a forced burner only while it is off and leaking, and where a joint of
    its connector stands open. ``density`` [kg/m3] is that of the room air.
    """
    if appliance.kind in ENTRY_LOSS:
        free = appliance.opening * _outlet_area(appliance)
        return ENTRY_LOSS[appliance.kind] / (2.0 * density * free**2)
    conductance = DISCHARGE * np.sqrt(2.0 * density) * float(appliance.joint.m_as("m**2"))
    if state == "off" and appliance.idle == "leaking":
        leak = appliance.leak
        conductance += density * float(leak.flow.m_as("m**3/s")) / np.sqrt(float(leak.pressure.m_as("Pa")))
    with np.errstate(divide="ignore"):
        return 1.0 / np.square(conductance)


def exit_resistance(appliance: Appliance) -> float:
    """Density times resistance [1/m4] of the way out into the room; nan where the way in serves both ways (a leak)."""
    if appliance.kind in ENTRY_LOSS:
        return EXIT_LOSS / (2.0 * _outlet_area(appliance) ** 2)
    return np.nan


def _outlet_area(appliance: Appliance) -> float:
    return float(np.pi * appliance.outlet_diameter.m_as("m") ** 2 / 4.0)
