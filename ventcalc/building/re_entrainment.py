"""Re-entrainment: flue gas that comes back to an air intake, estimated over many winds.

A plume leaves the stack, rises by its momentum, is bent over by the wind and spreads as it travels along the roof. At
an intake at the distance ``x`` along a stretched string its dilution is that of a Gaussian plume over a roof that
throws everything back,

    D = 4 U sigma_y sigma_z / (V d^2) exp( zeta^2 / (2 sigma_z^2) )

with ``zeta`` how far the plume's axis passes above the intake's top. Little wind lets the jet rise; much wind dilutes
it; between them is the worst wind, which is sought. A cap takes the momentum away, and with it nearly all.

The method is that of the ASHRAE Handbook HVAC Applications 2019, ch. 46 (read as restated in public programs and held
to its worked example). It is an estimate for a simple roof: no approval. The distance in a code, or a wind tunnel,
governs. Every figure of a standard: check what your jurisdiction adopted.
"""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from ventcalc import tables
from ventcalc.building import clearances
from ventcalc.gas import appliance as appliances
from ventcalc.gas import atmosphere, combustion, combustion_analysis
from ventcalc.gas.fuels import Fuel
from ventcalc.units import GAS_CONSTANT, Q_, Quantity, magnitude, quantities, show, ureg
from ventcalc.vent import worst_state
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.network import compile_network, room_vapour

CHECK = clearances.CHECK_EDITION
PASS, FAIL, READING = clearances.PASS, clearances.FAIL, clearances.READING


@cache
def figure(rule: str) -> Quantity:
    """The number of a rule in ``data/building/re_entrainment.csv``, by its name; ValueError where there is none."""
    row = tables.row("re_entrainment", rule, "rule")
    return Q_(float(row["value"]), {"-": "", "ft per cfm^0.5": "ft/cfm**0.5"}.get(row["unit"], row["unit"]))


def cited(rule: str) -> str:
    """Where a figure stands: source, edition, and to check it."""
    row = tables.row("re_entrainment", rule, "rule")
    unsure = ", from memory" if row["status"].startswith("from memory") else ""
    return f"{row['source']} (edition: {row['edition']}{unsure}; {CHECK})"


# --- One plume ------------------------------------------------------------------------------------------------

_HANDBOOK = "ASHRAE Handbook HVAC Applications 2019, ch. 46, as restated in a public program; " + CHECK
INITIAL_SPREAD = float(figure("initial spread").m)
LATERAL, VERTICAL = (float(figure(f"{way} intensity").m) for way in ("lateral", "vertical"))
NO_DOWNWASH = float(figure("no downwash").m)
_PROFILE_HEIGHT = 30.0  # m, in the intensity of turbulence
_SHEAR = 2.5  # of the logarithmic wind, 1 over von Karman's constant
_FINAL_RISE, _GROWING_RISE = 0.9, 3.0


@quantities(
    ("", ""),
    height="m",
    roughness="m",
    above={"height": 0.0, "roughness": 0.0},
    at_most={"roughness": 5.0},
    source=_HANDBOOK,
)
def turbulence(height, roughness):
    """Intensities of turbulence across the wind and upward: i_y = 0.75 i_x and i_z = 0.50 i_x.

    i_x = (0.24 + 0.096 lg z0 + 0.016 lg^2 z0) ln(30/z0) / ln(z/z0), z in m. height: of the roof, z, m; roughness: of
    the surroundings, z0, m: 0.1 open country, 0.5 to 1 suburbs and cities. Numbers or arrays that broadcast.

    Raises ValueError where the roof is not above three times the roughness: there the wind has no such profile.
    Source: the handbook's eq. (21).
    """
    if np.any(height <= 3.0 * roughness):
        raise ValueError(
            f"height = {np.min(height):.3g} m must be above three times the roughness, {np.max(roughness):g} m"
        )
    log = np.log10(roughness)
    along = 0.24 + 0.096 * log + 0.016 * log**2
    along = along * np.log(_PROFILE_HEIGHT / roughness) / np.log(height / roughness)
    return LATERAL * along, VERTICAL * along


_JET = {"wind": "m/s", "velocity": "m/s", "diameter": "m"}
_SOUND_JET = {"above": {"wind": 0.0, "diameter": 0.0}, "at_least": {"velocity": 0.0}}


@quantities(
    "m",
    distance="m",
    roof_height="m",
    roughness="m",
    density_ratio="",
    **_JET,
    above={"wind": 0.0, "diameter": 0.0, "roof_height": 0.0, "roughness": 0.0, "density_ratio": 0.0},
    at_least={"velocity": 0.0, "distance": 0.0},
    source=_HANDBOOK,
)
def jet_rise(distance, wind, velocity, diameter, roof_height, roughness, density_ratio=1.0):
    """Rise of a bent-over momentum jet: the smaller of (3 F x / (b U)^2)^(1/3) and 0.9 sqrt(F U/u*) / (b U).

    F = r V^2 d^2/4, b = 1/3 + U/V, U/u* = 2.5 ln(H/z0). distance: x downwind, m; wind: U at roof height, m/s;
    velocity: V of the discharge upward, m/s; diameter: d, m; roof_height: H, m; roughness: z0, m; density_ratio: r of
    the gas to outdoor air, 1 in the handbook; hot gas has less momentum. Numbers or arrays that broadcast.

    Buoyant rise is left out, which keeps a margin, most of all in little wind. Source: the handbook's eq. (7); the
    density ratio as in Briggs's momentum flux.
    """
    flux = density_ratio * velocity**2 * diameter**2 / 4.0
    bent = wind / 3.0 + wind**2 / np.maximum(velocity, 1e-9)  # b U
    growing = np.cbrt(_GROWING_RISE * flux * distance / bent**2)
    final = _FINAL_RISE * np.sqrt(flux * _SHEAR * np.log(roof_height / roughness)) / bent
    return np.minimum(growing, final)


@quantities("m", **_JET, **_SOUND_JET, source=_HANDBOOK)
def downwash(wind, velocity, diameter):
    """How far the stack's own wake pulls the plume down: d (3 - V/U), none from V = 3 U.

    wind: U, m/s; velocity: V upward, m/s (0 under a cap: three diameters in any wind); diameter: d, m. Numbers or
    arrays that broadcast. Source: the handbook's eq. (8).
    """
    return diameter * np.maximum(NO_DOWNWASH - velocity / wind, 0.0)


@quantities(
    "m",
    distance="m",
    intensity="",
    diameter="m",
    at_least={"distance": 0.0, "intensity": 0.0},
    above={"diameter": 0.0},
    source=_HANDBOOK,
)
def spread(distance, intensity, diameter):
    """Standard deviation of a plume: sqrt((i x)^2 + (0.35 d)^2).

    distance: x, m; intensity: i of turbulence in that direction; diameter: d of the discharge, m. Numbers or arrays
    that broadcast. Source: the handbook's eq. (19) and (20).
    """
    return np.hypot(intensity * distance, INITIAL_SPREAD * diameter)


_PLUME = {
    "distance": "m",
    "stack_height": "m",
    "intake_height": "m",
    "roof_height": "m",
    "roughness": "m",
    "density_ratio": "",
    **_JET,
}
_SOUND_PLUME = {
    "above": {
        "wind": 0.0,
        "diameter": 0.0,
        "velocity": 0.0,
        "roof_height": 0.0,
        "roughness": 0.0,
        "density_ratio": 0.0,
    },
    "at_least": {"distance": 0.0, "stack_height": 0.0},
}


@quantities("", **_PLUME, **_SOUND_PLUME, source=_HANDBOOK)
def dilution(
    distance,
    stack_height,
    intake_height,
    diameter,
    velocity,
    wind,
    roof_height,
    roughness,
    density_ratio=1.0,
    capped=False,
):
    """Dilution at an intake: concentration by volume in the discharge over that at the intake, both as they are.

    D = 4 U sy sz / (V d^2) exp(zeta^2 / (2 sz^2)), no less than 1; zeta = stack_height + rise - downwash - intake top,
    no less than 0. distance: along a stretched string, m; stack_height, intake_height: tops above the roof, m (an
    intake below the roof counts as at its level); diameter: d, m; velocity: V of the discharge, m/s; wind: U at roof
    height, m/s; roof_height: above ground, m; roughness: z0, m; density_ratio: of the gas to outdoor air; capped: no
    upward momentum. Numbers or arrays that broadcast.

    For one stack on a simple roof without taller neighbours; hourly means. In less than 400 fpm of wind (2 m/s) the
    plume of a capped stack or a flush vent has no such shape. Source: the handbook's eq. (16) to (20).
    """
    axis = _axis(distance, stack_height, diameter, velocity, wind, roof_height, roughness, density_ratio, capped)
    lateral, vertical = turbulence.bare(roof_height, roughness)
    across, upward = spread.bare(distance, lateral, diameter), spread.bare(distance, vertical, diameter)
    over = np.maximum(axis - np.maximum(intake_height, 0.0), 0.0)
    apart = np.minimum(over**2 / (2.0 * upward**2), 600.0)  # beyond it nothing arrives
    return np.maximum(4.0 * wind * across * upward / (velocity * diameter**2) * np.exp(apart), 1.0)


def _axis(distance, stack_height, diameter, velocity, wind, roof_height, roughness, density_ratio, capped):
    """Height of the plume's axis above the roof [m]."""
    upward = np.where(capped, 0.0, velocity)
    rise = jet_rise.bare(distance, wind, upward, diameter, roof_height, roughness, density_ratio)
    return stack_height + rise - downwash.bare(wind, upward, diameter)


@quantities("m", **{k: v for k, v in _PLUME.items() if k != "intake_height"}, **_SOUND_PLUME, source=_HANDBOOK)
def plume_height(
    distance, stack_height, diameter, velocity, wind, roof_height, roughness, density_ratio=1.0, capped=False
):
    """Height of the plume's axis above the roof: stack + rise - downwash.

    distance, stack_height, diameter, velocity, wind, roof_height, roughness, density_ratio, capped: as in `dilution`.
    May fall below the roof's level: then the plume runs along it. Source: the handbook's eq. (17).
    """
    return _axis(distance, stack_height, diameter, velocity, wind, roof_height, roughness, density_ratio, capped)


@quantities(
    "m",
    flow="m**3/s",
    velocity="m/s",
    target="",
    at_least={"flow": 0.0},
    above={"target": 0.0},
    source="ASHRAE 62.1, informative appendix on separation (from memory); " + CHECK,
)
def separation(flow, velocity, target):
    """Distance for a dilution by the ventilation standard's appendix: L = 0.09 sqrt(Q) (sqrt(DF) - U/400), not below 0.

    In ft, cfm and fpm there. flow: Q of the exhaust, m3/s; velocity: U away from the intake, m/s: 0 for a capped or
    level discharge, negative towards it; target: DF, the dilution wanted. Numbers or arrays that broadcast.

    One wind, one roof, no heights. From memory: to be confirmed.
    """
    factor = float(figure("separation factor").m_as("m/(m**3/s)**0.5"))
    against = velocity / float(figure("separation velocity").m_as("m/s"))
    return np.maximum(factor * np.sqrt(flow) * (np.sqrt(target) - against), 0.0)


@quantities(
    "m",
    along_roof="m",
    down_wall="m",
    sideways="m",
    at_least={"along_roof": 0.0, "down_wall": 0.0},
    source="plane geometry: the wall unfolded into the roof's plane",
)
def stretched_string(along_roof, down_wall=0.0, sideways=0.0):
    """Shortest way over the roof's edge: sqrt((a + h)^2 + b^2).

    along_roof: a from the stack to the edge above the intake, square to it, m; down_wall: h from the edge down to the
    intake, m (0: it stands on the roof); sideways: b along the edge, m. Numbers or arrays. Source: plane geometry.
    """
    return np.hypot(along_roof + down_wall, sideways)


# --- What leaves the stack ---------------------------------------------------------------------------------------

REFERENCE_OXYGEN = 0.03  # dry, at which NOx and CO of gas burners are stated
NO2_MOLAR_MASS = 0.0460055  # kg/mol


@quantities(
    "",
    excess_air="",
    dry_at_reference="",
    at_least={"excess_air": 0.0, "dry_at_reference": 0.0},
    source="dilution by air of 20.95 % oxygen; stoichiometry",
)
def in_wet_gas(fuel: Fuel, excess_air, dry_at_reference):
    """Mole fraction in the wet flue gas of what is stated dry at 3 % O2 (NOx, CO).

    x = x_3 (0.2095 - O2) / (0.2095 - 0.03) (1 - h2o). fuel: `Fuel`; excess_air: of the gas that leaves, ratio;
    dry_at_reference: stated mole fraction, such as 30 ppm. Numbers or arrays that broadcast.
    """
    burnt = combustion.products.bare(fuel, excess_air)
    air = combustion.OXYGEN_IN_AIR
    return dry_at_reference * (air - burnt.o2_dry) / (air - REFERENCE_OXYGEN) * (1.0 - burnt.gas.h2o)


@quantities(
    "kg/J",
    dry_at_reference="",
    molar_mass="kg/mol",
    at_least={"dry_at_reference": 0.0},
    above={"molar_mass": 0.0},
    source="stoichiometry; 40 CFR 60 App. A-7, Method 19",
)
def mass_per_heat(fuel: Fuel, dry_at_reference, molar_mass=NO2_MOLAR_MASS):
    """Mass emitted per heat input from a mole fraction stated dry at 3 % O2.

    fuel: `Fuel`; dry_at_reference: mole fraction; molar_mass: kg/mol (NOx counts as NO2). Numbers or arrays.
    """
    excess = float(combustion_analysis.excess_air_from_o2.bare(fuel, REFERENCE_OXYGEN))
    dry, _ = combustion.volume_per_heat.bare(fuel, excess)  # m3/MJ at 68 °F and 29.92 inHg
    moles = 1e-6 * dry * Q_(29.92, "inHg").m_as("Pa") / (GAS_CONSTANT * Q_(68.0, "degF").m_as("K"))
    return dry_at_reference * moles * molar_mass


@dataclass(frozen=True, eq=False)
class Discharge:
    """What leaves one stack, plain SI, numbers or one value a state.

    ``velocity`` [m/s], ``temperature`` and ``outdoor`` [K], mole fractions ``co2``, ``nox``, ``co`` of the wet gas.
    """

    velocity: np.ndarray
    temperature: np.ndarray
    outdoor: np.ndarray
    co2: np.ndarray
    nox: np.ndarray
    co: np.ndarray

    def __post_init__(self):
        for name in ("velocity", "temperature", "outdoor"):
            if not np.all(np.asarray(getattr(self, name)) > 0.0):
                raise ValueError(f"discharge: {name} must be above 0 in every state")
        for name in ("co2", "nox", "co"):
            share = np.asarray(getattr(self, name))
            if np.any((share < 0.0) | (share > 1.0)):
                raise ValueError(f"discharge: {name} must be a mole fraction, 0 to 1")

    @property
    def density_ratio(self) -> np.ndarray:
        """Of the gas to outdoor air, by temperature alone."""
        return np.asarray(self.outdoor / self.temperature)


class NoPlume(ValueError):
    """What leaves a vent cannot be told from this scan, and why."""


def discharge(scan: Scan, nox: Quantity, co: Quantity) -> tuple[Discharge, np.ndarray]:
    """What leaves the vent's termination in every state with a burner firing, and which states those are.

    ``nox`` and ``co`` as stated for the burners, dry at 3 % O2; room air drawn by hoods counts as dilution. One
    termination; codes must be whole. Raises `NoPlume` otherwise, and where gas falls down the vent in such a state.
    """
    solution, plant = scan.solution, scan.plant
    if len(plant.terminations) != 1:
        raise NoPlume(f"the vent has {len(plant.terminations)} terminations; look at one vent at a time")
    pick = np.flatnonzero(scan.any_firing)
    row = next(i for i, s in enumerate(plant.order) if s.into == plant.terminations[0].name)
    down = pick[solution.flow[row, pick] <= 0.0]
    if down.size:
        raise NoPlume(f"outdoor air falls down the vent in {down.size} states with a burner firing: mend that first")
    moles, parts = _moles(scan, pick, float(nox.m_as("")), float(co.m_as("")))
    velocity = solution.flow[row, pick] / (solution.density[row, pick] * plant.order[row].area)
    outdoor = np.array([s.outdoor.m_as("K") for s in scan.seasons])[scan.states.season[pick]]
    co2, nox_share, co_share = parts / moles
    return Discharge(velocity, solution.downstream[row, pick], outdoor, co2, nox_share, co_share), pick


def _moles(scan: Scan, pick, nox: float, co: float) -> tuple[np.ndarray, np.ndarray]:
    """Moles per time of all gas in the vent, and of CO2, NOx and CO (3, states)."""
    network = compile_network(scan.plant, scan.seasons)
    total, parts = np.zeros(pick.size), np.zeros((3, pick.size))
    outdoor_co2 = float(figure("outdoor CO2").m_as(""))
    for i, a in enumerate(scan.plant.appliances):
        codes, season = scan.states.codes[i, pick], scan.states.season[pick]
        if np.any(codes % 1.0):
            raise NoPlume(f"{a.name} modulates in some states; give whole codes")
        codes = codes.astype(int)
        table = np.array([[_fractions(a, code, s, network, nox, co) for code in a.states] for s in scan.seasons])
        molar, *shares = np.moveaxis(table, 2, 0)
        own = network.prescribed[i][season, codes] / molar[season, codes]
        drawn = np.maximum(scan.solution.drawn[i, pick], 0.0) / atmosphere.DRY_AIR_MOLAR_MASS
        total += own + drawn
        parts += np.array([own * share[season, codes] for share in shares])
        parts[0] += outdoor_co2 * drawn
    return total, parts


def _fractions(a, code: str, season, network, nox: float, co: float) -> tuple[float, float, float, float]:
    """Molar mass [kg/mol] and mole fractions of CO2, NOx and CO of what an appliance sends."""
    level = next((lv for lv in a.levels if lv.name == code), None)
    air = combustion.Gas.humid_air(room_vapour(season, network.pressure, a.room))
    sent = appliances.stream(a, code, float(season.air_of(a.room).temperature.m_as("K")), network.pressure, air).gas
    if level is None:
        return sent.molar_mass, float(figure("outdoor CO2").m_as("")), 0.0, 0.0
    stated = in_wet_gas.bare(a.fuel, level.excess_air, np.array([nox, co]))
    return sent.molar_mass, float(sent.co2), *(float(x) for x in stated)


# --- A roof, its stack and an intake -----------------------------------------------------------------------------


def _sound(value, unit: str, what: str, least: float, above: bool = False) -> None:
    plain = magnitude(value, ureg.Unit(unit), what)
    if not (plain > least if above else plain >= least):
        raise ValueError(f"{what} = {value:.4g~P} must be {'above' if above else 'at least'} {least:g} {unit}")


@dataclass(frozen=True)
class Roof:
    """A roof: ``height`` above ground and the ``roughness`` of the surroundings."""

    height: Quantity
    roughness: Quantity = Q_(0.65, "m")

    def __post_init__(self):
        _sound(self.roughness, "m", "roof: roughness", 0.0, above=True)
        _sound(self.height, "m", "roof: height", 3.0 * float(self.roughness.m_as("m")), above=True)


@dataclass(frozen=True)
class Stack:
    """A stack: ``height`` of its top above the roof, ``diameter`` of the discharge, ``capped`` or free."""

    name: str
    height: Quantity
    diameter: Quantity
    capped: bool = False

    def __post_init__(self):
        _sound(self.height, "m", f"stack {self.name}: height", 0.0)
        _sound(self.diameter, "m", f"stack {self.name}: diameter", 0.0, above=True)


@dataclass(frozen=True)
class Intake:
    """An air intake: ``distance`` from the stack along a stretched string, ``height`` of its top above the roof
    (negative: in a wall below it)."""

    name: str
    distance: Quantity
    height: Quantity = Q_(0.0, "m")

    def __post_init__(self):
        _sound(self.distance, "m", f"intake {self.name}: distance", 0.0)
        magnitude(self.height, ureg.Unit("m"), f"intake {self.name}: height")


INTAKES = ("forced-air intake", "gravity air inlet", "operable window", "door")


def intakes(
    scene: clearances.Scene, terminal: clearances.Terminal, kinds: tuple[str, ...] = INTAKES
) -> tuple[Intake, ...]:
    """The openings of a roof scene as intakes of a terminal: nearest distance in plan, and down the wall to lower ones.

    The roof's level is that of the roof plane under the terminal (of the highest, where none is under it).
    """
    level, found = roof_level(scene, terminal), []
    for opening in scene.openings:
        if opening.kind in kinds:
            far = float(np.abs(clearances.nearest(terminal.at, opening.shape, opening.closed)[0][0]))
            top = opening.span[1]
            found.append(Intake(opening.name, Q_(far + max(level - top, 0.0), "m"), Q_(top - level, "m")))
    return tuple(found)


def roof_level(scene: clearances.Scene, terminal: clearances.Terminal) -> float:
    """Level [m] of the roof that a terminal passes through."""
    under = [p for p in scene.planes if clearances.inside(terminal.at, p.shape)[0]]
    return max(float(p.height(terminal.at)[0]) for p in under or scene.planes)


# --- The worst wind -----------------------------------------------------------------------------------------------

# m/s at roof height. In less wind warm gas rises by its buoyancy, which is left out, and a plume without rise is none.
LEAST_WIND = float(figure("critical wind, capped").m_as("m/s"))
MOST_WIND = 20.0
_SPEEDS = 121


def winds() -> np.ndarray:
    """Wind speeds [m/s] among which the worst is sought: 400 fpm to 20 m/s."""
    return np.geomspace(LEAST_WIND, MOST_WIND, _SPEEDS)


def dilutions(stack: Stack, gas: Discharge, intake: Intake, roof: Roof, speeds: np.ndarray) -> np.ndarray:
    """Dilution at the intake (states, winds), by volume as `dilution`."""
    column = [np.atleast_1d(np.asarray(v, float))[:, None] for v in (gas.velocity, gas.density_ratio)]
    return dilution.bare(
        float(intake.distance.m_as("m")),
        float(stack.height.m_as("m")),
        float(intake.height.m_as("m")),
        float(stack.diameter.m_as("m")),
        column[0],
        speeds,
        float(roof.height.m_as("m")),
        float(roof.roughness.m_as("m")),
        column[1],
        stack.capped,
    )


def in_moles(diluted: np.ndarray, gas: Discharge) -> np.ndarray:
    """Dilution (states, winds) of mole fractions: hot gas shrinks as it mixes, so that it is diluted by more."""
    return diluted / np.atleast_1d(gas.density_ratio)[:, None]


@dataclass(frozen=True)
class Part:
    """One gas at the intake: ``added`` by the flue gas and ``limit`` in ppm, ``rule`` of the limit, ``verdict``.

    ``wind`` [m/s] and ``state`` are those of its worst, ``dilution`` by moles in them. ``harm`` is the level [ppm] of
    ``harm_rule`` at which people come to harm. Of NO2, ``share`` of the NOx is counted as it, and ``at_most`` [ppm]
    would be added by the greatest share it may have; of other gases that is what is added.
    """

    gas: str
    added: float
    limit: float
    rule: str
    verdict: str
    at_most: float
    harm: float
    harm_rule: str
    harmful: bool
    wind: float
    state: int
    dilution: float
    share: float | None = None


@dataclass(frozen=True)
class Reading:
    """An intake at its worst: wind and state, ``dilution`` by moles, ``plume`` axis above the intake's top [m].

    ``distance`` and ``asked`` [m] of the ventilation standard's rule, ``distance_verdict``; ``parts`` each gas.
    """

    intake: str
    wind: float
    state: int
    dilution: float
    plume: float
    distance: float
    asked: float
    distance_verdict: str
    distance_source: str
    parts: tuple[Part, ...]

    @property
    def verdict(self) -> str:
        """The worst of its verdicts."""
        every = [self.distance_verdict, *(p.verdict for p in self.parts)]
        return next(v for v in (FAIL, READING, PASS) if v in every)


# What is judged: the gas of the discharge that it comes from, the limit of air for everyone, the level that harms.
LIMITS = {"no2": "NO2, 1 h", "co": "CO, 8 h", "co2": "CO2, 8 h"}
HARM = {"no2": "NO2, harm, 1 h", "co": "CO, harm, 8 h", "co2": "CO2, harm"}
_COMES_FROM = {"no2": "nox", "co": "co", "co2": "co2"}
_STANDARD = "outdoor-air intake, ventilation standard"


def judge(
    stack: Stack,
    gas: Discharge,
    intake: Intake,
    roof: Roof,
    background: dict[str, float] | None = None,
    no2_share: float | None = None,
) -> Reading:
    """One intake over all states and winds: the worst dilution of each gas against its limit, and the code's distance.

    ``background`` of each gas in outdoor air [ppm], added to what the flue gas brings; left out: 420 ppm of CO2, else
    none. ``no2_share`` of the NOx is NO2, 0 to 1; left out: the share of common practice, and where only the greatest
    share it may have is beyond the limit that is for the authority to read. The wind and state shown are those of the
    gas nearest to its limit. Raises ValueError for another share.
    """
    if no2_share is not None and not 0.0 <= no2_share <= 1.0:
        raise ValueError(f"no2_share = {no2_share:g} must be 0 to 1")
    speeds = winds()
    moles = in_moles(dilutions(stack, gas, intake, roof, speeds), gas)
    behind = {"co2": float(figure("outdoor CO2").m_as("ppm"))} | (background or {})
    parts = tuple(_part(name, gas, moles, behind.get(name, 0.0), no2_share, speeds) for name in LIMITS)
    nearest = max(parts, key=lambda p: p.added / p.limit)
    ask = next(r for r in clearances.shipped_rules() if r.rule == _STANDARD)
    distance = float(intake.distance.m_as("m"))
    return Reading(
        intake=intake.name,
        wind=nearest.wind,
        state=nearest.state,
        dilution=nearest.dilution,
        plume=_over(stack, gas, intake, roof, nearest.state, nearest.wind),
        distance=distance,
        asked=ask.value,
        distance_verdict=PASS if distance >= ask.value else ask.broken,
        distance_source=f"{ask.section} ({ask.edition}; {CHECK})",
        parts=parts,
    )


def _part(name: str, gas: Discharge, moles: np.ndarray, behind: float, told: float | None, speeds) -> Part:
    """One gas at its worst over all states and winds ``moles`` (states, winds) of dilution."""
    brought = 1e6 * np.atleast_1d(np.asarray(getattr(gas, _COMES_FROM[name]), float))[:, None] / moles
    state, at = np.unravel_index(worst_state.worst(brought.ravel()), brought.shape)
    share = most = 1.0
    if name == "no2":
        share, most = (
            float(figure(rule).m) if told is None else told for rule in ("NO2 in NOx", "NO2 in NOx, at most")
        )
    added, at_most = share * float(brought.max()), most * float(brought.max())
    limit, harm = (float(figure(rules[name]).m_as("ppm")) for rules in (LIMITS, HARM))
    return Part(
        gas=name,
        added=added,
        limit=limit,
        rule=LIMITS[name],
        verdict=FAIL if added + behind > limit else READING if at_most + behind > limit else PASS,
        at_most=at_most,
        harm=harm,
        harm_rule=HARM[name],
        harmful=added + behind > harm,
        wind=float(speeds[at]),
        state=int(state),
        dilution=float(moles[state, at]),
        share=share if name == "no2" else None,
    )


def _over(stack: Stack, gas: Discharge, intake: Intake, roof: Roof, state: int, wind: float) -> float:
    """The plume's axis above the intake's top [m]."""
    velocity, ratio = (float(np.atleast_1d(v)[state]) for v in (gas.velocity, gas.density_ratio))
    sizes = (float(q.m_as("m")) for q in (intake.distance, stack.height, stack.diameter))
    far, high, wide = sizes
    around = float(roof.height.m_as("m")), float(roof.roughness.m_as("m"))
    axis = _axis(far, high, wide, velocity, wind, *around, ratio, stack.capped)
    return float(axis) - max(float(intake.height.m_as("m")), 0.0)


def least_dilution(stack: Stack, gas: Discharge, intake: Intake, roof: Roof) -> float:
    """Least dilution of mole fractions over all states and winds."""
    return float(in_moles(dilutions(stack, gas, intake, roof, winds()), gas).min())


# --- What would be enough ---------------------------------------------------------------------------------------

_HIGHEST, _FASTEST, _FARTHEST = 30.0, 25.0, 200.0  # m, m/s, m, to which an answer is sought
_HALVINGS, _STEPS = 30, 200


def nozzled(stack: Stack, gas: Discharge, velocity: Quantity) -> tuple[Stack, Discharge]:
    """The same flow through a narrower top, so that the slowest state leaves at ``velocity``; a cap comes off.

    The pressure that it takes is not counted here: the vent must be solved with it.
    """
    slowest = float(np.min(gas.velocity))
    ratio = float(velocity.m_as("m/s")) / slowest
    return replace(stack, diameter=stack.diameter / np.sqrt(ratio), capped=False), replace(
        gas, velocity=gas.velocity * ratio
    )


def enough_height(stack: Stack, gas: Discharge, intake: Intake, roof: Roof, target: float) -> Quantity | None:
    """Least height of the stack above the roof for a dilution at the worst wind; None where 30 m are not enough."""

    def holds(metres: float) -> bool:
        return least_dilution(replace(stack, height=Q_(metres, "m")), gas, intake, roof) >= target

    return _least(holds, 0.0, _HIGHEST, "m")


def enough_velocity(stack: Stack, gas: Discharge, intake: Intake, roof: Roof, target: float) -> Quantity | None:
    """Least velocity of the same flow (slowest state), without a cap, for a dilution; None where 25 m/s are too few.

    No less than what it leaves at now.
    """

    def holds(speed: float) -> bool:
        return least_dilution(*nozzled(stack, gas, Q_(speed, "m/s")), intake, roof) >= target

    return _least(holds, float(np.min(gas.velocity)), _FASTEST, "m/s")


def _least(holds, low: float, high: float, unit: str) -> Quantity | None:
    """The least value that holds; what holds at one holds at every greater one."""
    if holds(low):
        return Q_(low, unit)
    if not holds(high):
        return None
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if holds(middle) else (middle, high)
    return Q_(high, unit)


def enough_distance(stack: Stack, gas: Discharge, intake: Intake, roof: Roof, target: float) -> Quantity | None:
    """Distance from which on the dilution is enough at the worst wind; None where 200 m are not.

    Nearer to a tall stack it may be enough as well: the plume passes over before it has spread down.
    """
    far = np.linspace(0.0, _FARTHEST, _STEPS + 1)
    found = [least_dilution(stack, gas, replace(intake, distance=Q_(x, "m")), roof) >= target for x in far]
    short = np.flatnonzero(~np.array(found))
    if short.size == 0:
        return Q_(0.0, "m")
    if short[-1] == _STEPS:
        return None

    def holds(metres: float) -> bool:
        return least_dilution(stack, gas, replace(intake, distance=Q_(metres, "m")), roof) >= target

    return _least(holds, float(far[short[-1]]), float(far[short[-1] + 1]), "m")


# --- In words ------------------------------------------------------------------------------------------------


CAUTION = (
    "An estimate of hourly means for a simple roof; it approves nothing. The code's distance or a wind tunnel governs; "
    "peaks and odours are stronger than means."
)

NAMES = {"no2": "NO2", "co": "CO", "co2": "CO2"}


def sentences(reading: Reading, system: str = "US") -> tuple[str, ...]:
    """A reading in plain sentences, with its cautions."""
    apart, asked = (show(Q_(v, "m"), system) for v in (reading.distance, reading.asked))
    wind = show(Q_(reading.wind, "m/s"), system)
    side, passes = "over" if reading.plume >= 0.0 else "below", show(Q_(abs(reading.plume), "m"), system)
    said = [
        f"{reading.intake}: {reading.distance_verdict} by distance, {apart} along the string for {asked} "
        f"({reading.distance_source}).",
        f"At the worst wind, {wind} at roof height, the plume's axis passes {passes} {side} the intake's top "
        f"and the flue gas arrives diluted {reading.dilution:,.0f} times.",
    ]
    said += [part_sentence(p) for p in reading.parts]
    said.append(CAUTION)
    return tuple(said)


def part_sentence(p: Part) -> str:
    """One gas at an intake, against its limit and the level that harms."""
    counted = "" if p.share is None else f", {p.share:.0%} of the NOx"
    counted += f"; {ppm_text(p.at_most)} at the greatest share" if p.at_most > p.added else ""
    harm = (
        f" That is beyond {ppm_text(p.harm)}, at which people come to harm ({cited(p.harm_rule)})." if p.harmful else ""
    )
    return (
        f"{NAMES[p.gas]}: {p.verdict} by the estimate, {ppm_text(p.added)} added{counted}, for a limit of "
        f"{ppm_text(p.limit)} ({p.rule}; {cited(p.rule)}).{harm}"
    )


def ppm_text(value: float) -> str:
    """A concentration [ppm] as it is read."""
    return f"{value:,.0f} ppm" if value >= 100.0 else f"{value:.3g} ppm"
