"""Carbon monoxide: how flue gas that gets into a room builds up, against which limits, and what an alarm does about it.

A room is well mixed and stays at its pressure, so whatever flows in pushes as much out. Flue gas counts as a flow of
its own; its heat is left out, which in truth would lift it to the ceiling first. Burners that draw their air from the
same room burn worse as it fills; that is left out too. Concentrations are parts per million by volume (ppm).

The uptake by blood is that of Coburn, Forster and Kane for healthy adults. It holds for no infant, no unborn child
and no sick heart, and this module is no medical instrument. If an alarm sounds, leave and call the emergency
services; nothing here is a reason to stay. Limits are facts of `data/building/carbon_monoxide.csv`, each with its
source and
edition: check what your jurisdiction adopted.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from typing import Any

import numpy as np
from scipy.integrate import cumulative_trapezoid, solve_ivp
from scipy.special import exprel

from ventcalc import tables
from ventcalc.gas import combustion, combustion_analysis
from ventcalc.gas.atmosphere import ATOMIC_MASS
from ventcalc.gas.combustion import Products
from ventcalc.units import GAS_CONSTANT, Q_, Quantity, magnitude, quantities, show, ureg
from ventcalc.vent import reversal, worst_state
from ventcalc.vent.firing_states import Scan

MOLAR_MASS = ATOMIC_MASS["C"] + ATOMIC_MASS["O"]  # kg/mol of carbon monoxide
LIMIT_TEMPERATURE = Q_(25.0, "degC")  # at which limits in mg/m3 are read as ppm, with one standard atmosphere; the
LIMIT_PRESSURE = Q_(1.0, "atm")  # compiled list of limits that prints 1 ppm = 1.145 mg/m3 does so (O019)

_IDEAL = "ideal gas"
_BALANCE = "balance of one substance in well-mixed rooms"


# --- Conversions -----------------------------------------------------------------------------------------------------


@quantities(
    "mg/m**3", co="ppm", temperature="K", pressure="Pa", at_least={"co": 0.0}, above={"pressure": 0.0}, source=_IDEAL
)
def mass_concentration(co, temperature, pressure):
    """Milligrams of carbon monoxide in a cubic metre: ``co p M / (R T)``.

    co: ppm by volume; temperature [K] and absolute pressure [Pa] of the air; numbers or arrays that broadcast. A list
    of limits prints 1.145 for 1 ppm at 25 °C:

    >>> float(mass_concentration(Q_(1, "ppm"), Q_(25, "degC"), Q_(1, "atm")).m)
    1.145
    """
    return co * pressure * MOLAR_MASS / (GAS_CONSTANT * temperature)


@quantities(
    "ppm",
    concentration="mg/m**3",
    temperature="K",
    pressure="Pa",
    at_least={"concentration": 0.0},
    above={"pressure": 0.0},
    source=_IDEAL,
)
def volume_concentration(concentration, temperature, pressure):
    """Parts per million that a mass concentration is: the inverse of `mass_concentration`.

    concentration: mg/m3; temperature [K] and absolute pressure [Pa] of the air; numbers or arrays that broadcast.
    """
    return concentration / mass_concentration.bare(1.0, temperature, pressure)


@quantities(
    "ppm",
    air_free="ppm",
    o2_dry="",
    at_least={"air_free": 0.0, "o2_dry": 0.0},
    at_most={"o2_dry": 0.209},
    source=combustion_analysis.co_air_free.source,
)
def as_measured(air_free, o2_dry):
    """What an analyser reads in dry flue gas of that much CO air-free: `combustion_analysis.co_air_free` inverted.

    air_free: ppm; o2_dry: mole fraction of oxygen beside it, 0 to 0.209; numbers or arrays that broadcast.
    """
    return air_free / combustion_analysis.co_air_free.bare(1.0, o2_dry)


@quantities(
    "ppm",
    co="ppm",
    co2_dry="",
    ultimate_co2="",
    at_least={"co": 0.0},
    above={"co2_dry": 0.0},
    at_most={"co2_dry": 0.21, "ultimate_co2": 0.21},
    source="dilution by air without carbon dioxide",
)
def co_air_free_by_co2(co, co2_dry, ultimate_co2):
    """Carbon monoxide air-free by the CO2 beside it: ``CO ultimate / CO2``.

    co: measured in the dry gas, ppm; co2_dry: mole fraction measured beside it, above 0; ultimate_co2: that of the fuel
    (`combustion.ultimate_co2`), not below co2_dry; numbers or arrays that broadcast. The 0.04 % of the air itself is
    left out, as the trade does. Raises ValueError where there is more CO2 than the ultimate.
    """
    if np.any(co2_dry > ultimate_co2):
        raise ValueError(f"co2_dry = {100 * np.max(co2_dry):.4g} % is more than the ultimate CO2 of the fuel")
    return co * ultimate_co2 / co2_dry


# --- Flue gas that goes astray ---------------------------------------------------------------------------------------


@quantities(
    "kg/s",
    heat_input="W",
    share="",
    at_least={"heat_input": 0.0, "share": 0.0},
    at_most={"share": 1.0},
    source=combustion.products.source,
)
def spilled_share(heat_input, share, products: Products):
    """Flue gas that a share of an appliance's output is, kg/s: ``share x heat input x flue gas per heat``.

    heat_input: W on the higher heating value; share: of the flue gas, 0 to 1; products: of `combustion.products`.
    """
    return share * heat_input * products.mass_per_heat


@quantities("", vapour="", air_vapour="", source="mixing of two streams, by moles")
def burnt_share(vapour, air_vapour, products: Products):
    """Mole share of flue gas in a stream of flue gas and air: ``(x - xa) / (xf - xa)``, by its water.

    vapour x: mole fraction of water in the stream (as `solution.Solution` has it); air_vapour xa: that of the air;
    products: of `combustion.products`, whose gas holds xf. Kept within 0 and 1. An idle boiler that breathes back
    what a neighbour's purge has thinned takes in less carbon monoxide than one that breathes flue gas.
    """
    wet = products.gas.h2o
    if np.any(wet <= air_vapour):
        raise ValueError(f"air_vapour = {np.max(air_vapour):.4g} is not below the {np.max(wet):.4g} of the flue gas")
    return np.clip((vapour - air_vapour) / (wet - air_vapour), 0.0, 1.0)


@quantities(
    ("m**3/s", "ppm"),
    spill="kg/s",
    co_air_free="ppm",
    temperature="K",
    pressure="Pa",
    burnt="",
    at_least={"spill": 0.0, "co_air_free": 0.0, "burnt": 0.0},
    at_most={"burnt": 1.0},
    above={"pressure": 0.0},
    source=f"{_IDEAL}; {combustion_analysis.co_air_free.source}",
)
def spilled(spill, products: Products, co_air_free, temperature, pressure, burnt=1.0):
    """Volume flow of astray flue gas at the room's temperature, and the ppm of CO in it, wet.

    ``V = m R T / (M p)`` and ``CO = air-free (0.2095 - O2)/0.2095 (1 - H2O) burnt``. spill: m, kg/s; products: of
    `combustion.products`; co_air_free: ppm of the dry, air-free gas; temperature [K] and absolute pressure [Pa] of the
    room; burnt: mole share of flue gas in what is spilled, the rest being air (`burnt_share`); its molar mass is that
    of the flue gas all the same, within 5 %. Numbers or arrays that broadcast.
    """
    volume = spill * GAS_CONSTANT * temperature / (products.gas.molar_mass * pressure)
    return volume, as_measured.bare(co_air_free, products.o2_dry) * (1.0 - products.gas.h2o) * burnt


@dataclass(frozen=True)
class Spill:
    """The worst that an appliance lets into the room in a scan.

    ``flow`` [mass flow] in ``state``, of which the mole share ``burnt`` is flue gas with these ``products``; the rest
    is air from a neighbour's purge.
    """

    appliance: str
    state: int
    flow: Quantity
    burnt: float
    products: Products


def spills(scan: Scan) -> tuple[Spill, ...]:
    """For every appliance through which flue gas enters the room, the state in which most of it does.

    By flow times share, `reversal.flue_gas_in_room`: the largest backflow may be a purge, and nothing but air.
    Carbon dioxide tells the share (water drains on the way), and carbon monoxide goes with it; where several fuels burn
    at once the products are those of the appliance itself if it fires, or else of the largest firing.
    """
    found, (flue_gas, share) = [], reversal.flue_gas_in_room(scan)
    for i, a in enumerate(scan.plant.appliances):
        if not flue_gas[i].max() > reversal.REVERSAL_FLOW:
            continue
        state = worst_state.worst(flue_gas[i])
        products, _ = reversal.burning(scan, i, state)
        flow = Q_(-float(scan.solution.drawn[i, state]), "kg/s")
        found.append(Spill(a.name, state, flow, float(share[i, state]), products))
    return tuple(found)


# --- Rooms -----------------------------------------------------------------------------------------------------------

_AT_LEAST = dict.fromkeys(("time", "ventilation", "spill", "spill_co", "initial", "outdoor"), 0.0)


@quantities(
    "ppm",
    time="s",
    volume="m**3",
    ventilation="m**3/s",
    spill="m**3/s",
    spill_co="ppm",
    initial="ppm",
    outdoor="ppm",
    at_least=_AT_LEAST,
    above={"volume": 0.0},
    source=_BALANCE,
)
def concentration(time, volume, ventilation, spill=0.0, spill_co=0.0, initial=0.0, outdoor=0.0):
    """Carbon monoxide in one room after a time, ppm.

    ``V dC/dt = Q Co + q Cq - (Q + q) C``, so ``C = C0 e^(-kt) + (Q Co + q Cq)/V (1 - e^(-kt))/k`` with ``k = (Q+q)/V``.
    time: s; volume V: m3; ventilation Q: outdoor air of any origin, m3/s; spill q: flue gas at room temperature, m3/s,
    with spill_co Cq in it (a source of pure CO: its m3/s and 1e6 ppm); initial C0 and outdoor Co: ppm. Numbers or
    arrays that broadcast; a closed room without any flow keeps what it has. A worked exercise reaches 120 ppm in a room
    of 40 m3 after "approximately 1.3 hrs":

    >>> room = dict(volume=Q_(40, "m**3"), ventilation=Q_(0.003 - 1.2e-6, "m**3/s"))
    >>> float(concentration(Q_(1.321, "hour"), **room, spill=Q_(1.2e-6, "m**3/s"), spill_co=Q_(1e6, "ppm")).m)
    120.0
    """
    rate = (ventilation + spill) / volume
    source = (ventilation * outdoor + spill * spill_co) / volume
    return initial * np.exp(-rate * time) + source * time * exprel(-rate * time)


@quantities(
    "ppm",
    ventilation="m**3/s",
    spill="m**3/s",
    spill_co="ppm",
    outdoor="ppm",
    at_least={k: v for k, v in _AT_LEAST.items() if k not in ("time", "initial")},
    source=_BALANCE,
)
def steady_state(ventilation, spill, spill_co, outdoor=0.0):
    """Where `concentration` ends, ppm: ``(Q Co + q Cq) / (Q + q)``; the room's volume only says how soon.

    ventilation, spill: m3/s; spill_co, outdoor: ppm; numbers or arrays that broadcast. Raises ValueError where nothing
    flows at all.
    """
    if np.any(np.add(ventilation, spill) <= 0.0):
        raise ValueError("ventilation and spill are both 0: a closed room has no steady state")
    return (ventilation * outdoor + spill * spill_co) / (ventilation + spill)


@quantities(
    "s",
    level="ppm",
    volume="m**3",
    ventilation="m**3/s",
    spill="m**3/s",
    spill_co="ppm",
    initial="ppm",
    outdoor="ppm",
    at_least=_AT_LEAST | {"level": 0.0},
    above={"volume": 0.0},
    source=_BALANCE,
)
def time_to_reach(level, volume, ventilation, spill, spill_co, initial=0.0, outdoor=0.0):
    """When a rising concentration comes to a level, s: ``ln((Cs - C0)/(Cs - C)) / k``; infinite where it never does.

    level: C, ppm; volume: m3; ventilation and spill: m3/s; spill_co, initial C0, outdoor: ppm, all as in
    `concentration`; numbers or arrays that broadcast. 0 where the level is there from the beginning.
    """
    level, initial, total = np.broadcast_arrays(level, initial, np.add(ventilation, spill))[:3]
    steady = steady_state.bare(ventilation, spill, spill_co, outdoor)
    with np.errstate(divide="ignore", invalid="ignore"):
        wait = np.log((steady - initial) / (steady - level)) * volume / total
    return np.where(initial >= level, 0.0, np.where(steady > level, wait, np.inf))[()]


@quantities(
    "m**3/s",
    level="ppm",
    ventilation="m**3/s",
    spill_co="ppm",
    outdoor="ppm",
    at_least={"level": 0.0, "ventilation": 0.0, "spill_co": 0.0, "outdoor": 0.0},
    source=_BALANCE,
)
def spill_to_reach(level, ventilation, spill_co, outdoor=0.0):
    """Flue gas [m3/s, at room temperature] that holds a room at a level: ``Q (C - Co) / (Cq - C)``.

    level C, spill_co Cq, outdoor Co: ppm; ventilation Q: m3/s; numbers or arrays that broadcast. 0 where outdoors is
    there already, infinite where the flue gas itself holds less.
    """
    gap = np.asarray(spill_co - level, float)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(gap > 0.0, np.maximum(ventilation * (level - outdoor), 0.0) / gap, np.inf)[()]


@quantities(
    "ppm",
    times="s",
    starts="s",
    volumes="m**3",
    ventilation="m**3/s",
    exchange="m**3/s",
    spill="m**3/s",
    spill_co="ppm",
    initial="ppm",
    outdoor="ppm",
    at_least={**_AT_LEAST, "exchange": 0.0} | {"times": 0.0, "starts": 0.0},
    above={"volumes": 0.0},
    source=_BALANCE,
)
def history(times, starts, volumes, ventilation, exchange, spill, spill_co, initial=0.0, outdoor=0.0):
    """Carbon monoxide in several rooms through stages in which sources and ventilation stand still, ppm (rooms, times).

    In room i: ``Vi dCi/dt = Qi Co + qi Cq - (Qi + qi) Ci + sum_j E_ij (Cj - Ci)``. Written for ``C sqrt(V)`` its
    matrix is symmetric, so each stage is solved exactly by its eigenvalues.
    times: s, rising; starts: s, when each stage begins, the first 0, rising; volumes V (rooms) m3; ventilation Q
    (stages, rooms) and spill q (stages, rooms) m3/s; exchange E (rooms, rooms) m3/s, symmetric: air that changes
    places through an open door or a grille; spill_co Cq (stages) ppm; initial (rooms) and outdoor: ppm. Shapes that
    broadcast to these will do. Raises ValueError where starts do not begin at 0 and rise or exchange is not symmetric.
    """
    volumes, exchange = np.atleast_1d(volumes), np.atleast_2d(exchange)
    starts, rooms = np.atleast_1d(starts), np.size(volumes)
    if starts[0] != 0.0 or np.any(np.diff(starts) <= 0.0):
        raise ValueError(
            f"starts = {starts.tolist()} s: the first stage begins at 0 and each later than the one before"
        )
    if not np.allclose(exchange, exchange.T):
        raise ValueError("exchange between rooms must be the same both ways; anything else is ventilation")
    ventilation = np.broadcast_to(ventilation, (starts.size, rooms))
    spill, spill_co = np.broadcast_to(spill, (starts.size, rooms)), np.broadcast_to(spill_co, starts.shape)
    now, found = np.broadcast_to(initial, (rooms,)).astype(float), np.empty((rooms, np.size(times)))
    for k, (start, end) in enumerate(zip(starts, np.append(starts[1:], np.inf), strict=True)):
        source = ventilation[k] * outdoor + spill[k] * spill_co[k]
        inside = (times >= start) & (times < end)
        ends = np.append(times[inside] - start, end - start if np.isfinite(end) else 0.0)
        solved = _stage(ends, volumes, ventilation[k] + spill[k], exchange, source, now)
        found[:, inside], now = solved[:, :-1], solved[:, -1]
    return found


def _stage(time, volumes, leaving, exchange, source, initial):
    """Concentrations (rooms, times) of one stage; ``source`` in ppm m3/s."""
    root = np.sqrt(volumes)
    exchange = exchange - np.diag(np.diag(exchange))
    matrix = (exchange - np.diag(leaving + exchange.sum(axis=1))) / np.outer(root, root)
    rates, modes = np.linalg.eigh(matrix)
    rates = np.minimum(rates, 0.0)[:, None]  # a closed house has one of 0, give or take a rounding
    start, drive = modes.T @ (root * initial), modes.T @ (source / root)
    amounts = start[:, None] * np.exp(rates * time) + drive[:, None] * time * exprel(rates * time)
    return (modes @ amounts) / root[:, None]


# --- Limits ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Limit:
    """One limit: ``level`` [ppm] as a mean over ``window`` [s] (0: at any moment), and where it comes from.

    ``weight``: "harm" where the level harms people or is the most that a healthy adult may breathe at work, else
    "guideline", of air that everyone breathes.
    """

    body: str
    rule: str
    printed: str
    level: float
    window: float
    whom: str
    source: str
    edition: str
    status: str
    weight: str

    @property
    def averaging(self) -> str:
        """Its averaging time in words."""
        return f"{clock(self.window)} mean" if self.window else "at any moment"

    @property
    def name(self) -> str:
        """Body, level as printed and averaging time."""
        return f"{self.body} {self.rule}, {self.printed}, {self.averaging}"

    @property
    def cited(self) -> str:
        """Its name with source, edition and status."""
        return f"{self.name} ({self.source}; {self.edition}; {self.status})"


def facts(kind: str) -> list[Mapping[str, str]]:
    """Rows of `data/building/carbon_monoxide.csv`: "limit", "alarm", "interlock", "placement", "appliance" or
    "uptake"."""
    return [row for row in tables.read("carbon_monoxide") if row["kind"] == kind]


@cache
def limits() -> tuple[Limit, ...]:
    """The limits of `data/building/carbon_monoxide.csv`, body by body; those in mg/m3 read at 25 °C and one
    atmosphere."""
    return tuple(_limit(row) for row in facts("limit"))


def _limit(row: Mapping[str, str]) -> Limit:
    given = Q_(float(row["value"]), row["unit"].replace("m3", "m**3"))
    if row["unit"] != "ppm":
        given = volume_concentration(given, LIMIT_TEMPERATURE, LIMIT_PRESSURE)
    words = (row["body"], row["rule"], f"{row['value']} {row['unit'].replace('m3', 'm³')}")
    where = (row["whom"], row["source"], row["edition"], row["status"], row["weight"])
    return Limit(*words, float(given.m_as("ppm")), 60.0 * float(row["minutes"]), *where)


@quantities(
    "ppm",
    times="s",
    co="ppm",
    window="s",
    before="ppm",
    at_least={"co": 0.0, "window": 0.0, "before": 0.0},
    source="definition of a time-weighted mean",
)
def running_mean(times, co, window, before=0.0):
    """Mean of a history over the window that ends at each of its times, ppm, by the trapezium between them.

    times: s, rising, from the beginning of the history; co: ppm (..., times); window: s, 0 for the value itself;
    before: ppm that the room held before the history began, at most all of the window.
    """
    if window == 0.0:
        return co
    dose = cumulative_trapezoid(co, times, axis=-1, initial=0.0)
    since = times - window
    # Between two times the concentration is a straight line, so its dose is a parabola.
    at = np.clip(np.searchsorted(times, since, side="right") - 1, 0, times.size - 2)
    step = np.clip(since - times[at], 0.0, None)
    slope = np.diff(co, axis=-1)[..., at] / np.diff(times)[at]
    earlier = dose[..., at] + step * (co[..., at] + 0.5 * slope * step)
    missing = np.clip(times[0] - since, 0.0, None)
    return (dose - np.where(missing > 0.0, 0.0, earlier) + before * missing) / window


@dataclass(frozen=True)
class Judged:
    """One limit held against one room: ``worst`` mean [ppm], when it first went ``over`` [s, infinite: never], verdict.

    ``verdict`` is "pass", "fail", or "needs the authority's reading" where the history is shorter than the averaging
    time of the limit and the mean so far is below it.
    """

    room: str
    limit: Limit
    worst: float
    over: float
    verdict: str

    @property
    def by(self) -> float:
        """How far above the limit [ppm], 0 where it is not."""
        return max(self.worst - self.limit.level, 0.0)


def judge_limit(room: str, limit: Limit, times, co, before: float = 0.0) -> Judged:
    """Hold one limit against a history: times [s], co [ppm] of one room, before [ppm] what it held until then."""
    mean = running_mean.bare(times, co, limit.window, before)
    above = np.flatnonzero(mean > limit.level)
    if above.size:
        return Judged(room, limit, float(mean.max()), float(times[above[0]]), "fail")
    short = times[-1] - times[0] < limit.window
    return Judged(room, limit, float(mean.max()), np.inf, "needs the authority's reading" if short else "pass")


# --- Alarms ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class AlarmBand:
    """When a residential alarm may sound at the ``earliest`` and must at the ``latest`` [s; infinite: never]."""

    standard: str
    earliest: float
    latest: float


@cache
def alarm_points(standard: str) -> dict[str, tuple[np.ndarray, np.ndarray]]:
    """Test points of an alarm standard: for "earliest" and "latest" the ppm and the times [s], rising in ppm."""
    rows = [row for row in facts("alarm") if row["body"] == standard]
    if not rows:
        raise ValueError(f"standard {standard!r}: there are {', '.join(alarm_standards())}")
    points = {}
    for edge in ("earliest", "latest"):
        pairs = sorted((float(r["value"]), 60.0 * float(r["minutes"])) for r in rows if r["edge"] == edge)
        points[edge] = tuple(np.array(pairs).T)
    return points


def alarm_standards() -> tuple[str, ...]:
    """The alarm standards whose test points are known."""
    return tuple(dict.fromkeys(row["body"] for row in facts("alarm")))


_AT_ONCE = 1.0  # s: a test point without a least time


def alarm_band(times, co, standard: str = "UL 2034") -> AlarmBand:
    """When an alarm sounds on a history: times [s], rising; co [ppm] at it.

    A standard tests alarms at constant concentrations only. Assumed here for any other history: between test points the
    logarithm of the time is a straight line over that of the concentration, above the highest the time stays, below the
    lowest nothing happens, and every minute spends its share of the time; at a whole share the alarm sounds. For the
    latest alarm a fall below the lowest test point begins it all anew, as a trainer of alarm users says it does. At a
    constant concentration of the standard its own times come out. UL 2034 is said to rest on about 10 % COHb; its
    latest alarms are that for heavy work (`person`), which is another way to judge a rising concentration.
    Raises ValueError for an unknown standard.
    """
    points = alarm_points(standard)
    return AlarmBand(standard, *(_first_alarm(times, co, *points[edge], edge) for edge in ("earliest", "latest")))


def _first_alarm(times, co, levels, waits, edge: str) -> float:
    with np.errstate(divide="ignore"):
        wait = np.exp(np.interp(np.log(co), np.log(levels), np.log(np.maximum(waits, _AT_ONCE))))
    heard = co >= levels[0] * (1.0 - 1e-9)
    share = cumulative_trapezoid(np.where(heard, 1.0 / wait, 0.0), times, initial=0.0)
    if edge == "latest":
        share = share - np.maximum.accumulate(np.where(heard, 0.0, share))
    done = int(np.argmax(share >= 1.0 - 1e-9))
    if share[done] < 1.0 - 1e-9:
        return np.inf
    return float(np.interp(1.0, share[done - 1 : done + 1], times[done - 1 : done + 1])) if done else float(times[0])


# --- Uptake by blood -------------------------------------------------------------------------------------------------

_TORR = ureg.Quantity(1.0, "mmHg").m_as("Pa")
_PER_MINUTE = 1e-6 / 60.0  # m3/s in 1 mL/min
BODY_VAPOUR = 47.0 * _TORR  # Pa, water vapour at 37 °C (any table of steam)
OXYGEN_DROP = 49.0 * _TORR  # Pa, from inspired air to the capillaries of the lung (a public page on the CFK equation)
HALDANE = 218.0  # affinity of haemoglobin for CO over that for O2 (the same page)
BLOOD = 5500e-6  # m3 of blood (Michigan OSHA laboratory's sheet)
CAPACITY = 0.2  # volume of CO that a volume of blood binds (the same sheet: its 2.3 mmHg is 100 / (218 x 0.2))
MADE = 0.007 * _PER_MINUTE  # m3/s of CO that the body makes itself (the same sheet)
BACKGROUND = 0.008  # COHb of someone who does not smoke (the public page; WHO: 0.005 to 0.015)
ALARM_COHB = 0.10  # what UL 2034 is said to rest on ("approximately", as alarm makers print it)

_CFK = (
    "Coburn, Forster & Kane, J. Clin. Invest. 44 (1965) 1899, in the form of a public page on it; "
    "parameters: data/building/carbon_monoxide.csv"
)
_CFK_LEAST = {"times": 0.0, "time": 0.0, "co": 0.0, "initial": 0.0, "oxygen": 0.15, "pressure": 6e4}
_CFK_MOST = {"initial": 0.99, "oxygen": 1.0}


@dataclass(frozen=True)
class Person:
    """A healthy adult: ``ventilation`` of the alveoli [m3/s, dry at 0 °C], the lung's ``diffusing`` capacity
    [m3/(s Pa)]."""

    activity: str
    ventilation: float
    diffusing: float

    def resistance(self, pressure: float) -> float:
        """B of the CFK equation, Pa s/m3: ``1/DL + (p - 47 mmHg)/VA``."""
        return 1.0 / self.diffusing + (pressure - BODY_VAPOUR) / self.ventilation


@cache
def person(activity: str) -> Person:
    """Someone "resting", "sedentary", at "light work" or "heavy work". Raises ValueError for anything else."""
    found = {row["rule"]: float(row["value"]) for row in facts("uptake") if row["body"] == activity}
    if not found:
        raise ValueError(f"activity {activity!r}: choose one of {', '.join(activities())}")
    diffusing = found["diffusing capacity"] * _PER_MINUTE / _TORR
    return Person(activity, found["alveolar ventilation"] * _PER_MINUTE, diffusing)


def activities() -> tuple[str, ...]:
    """What `person` knows."""
    return tuple(dict.fromkeys(row["body"] for row in facts("uptake")))


def _pressures(co, pressure, oxygen):
    """Of carbon monoxide in the air breathed in, and of oxygen in the lung's capillaries [Pa]."""
    dry = pressure - BODY_VAPOUR
    return co * 1e-6 * dry, oxygen * dry - OXYGEN_DROP


@quantities(
    "",
    times="s",
    co="ppm",
    initial="",
    pressure="Pa",
    oxygen="",
    at_least={k: v for k, v in _CFK_LEAST.items() if k != "time"},
    at_most=_CFK_MOST,
    source=_CFK,
)
def cohb(times, co, who: Person, initial=BACKGROUND, pressure=101325.0, oxygen=combustion.OXYGEN_IN_AIR):
    """Share of haemoglobin that carries carbon monoxide along a history, by the nonlinear CFK equation.

    ``Vb c dx/dt = VCO + (PCO - x PO2 / (M (1 - x))) / B``: what the body makes and breathes in less what it breathes
    out; integrated numerically. times: s, rising; co: ppm (..., times), a straight line between them; who: a `person`;
    initial: x at the first time; pressure: absolute, Pa, from 60 kPa; oxygen: mole fraction breathed, 0.15 to 1.
    A healthy adult's, ±1.5 percentage points or more from one to the next; not for infants, pregnancy, heart patients.
    It lies below what is printed in 23 of 26 rows of ``data/building/carbon_monoxide_checks.csv``, by 5 % in the
    middle and 11 %
    in all but one: the unsafe side. `judge` raises it by `COHB_MARGIN`.
    """
    co, times = np.asarray(co, float), np.asarray(times, float)
    rows = co.reshape(-1, co.shape[-1])
    taken, given = _pressures(rows, pressure, oxygen)
    resistance = who.resistance(pressure)

    def slope(now, bound):
        i = min(max(int(np.searchsorted(times, now)) - 1, 0), times.size - 2)
        part = (now - times[i]) / (times[i + 1] - times[i])
        breathed = taken[:, i] + part * (taken[:, i + 1] - taken[:, i])
        free = np.maximum(1.0 - bound, 1e-9)
        return (MADE + (breathed - bound * given / (HALDANE * free)) / resistance) / (BLOOD * CAPACITY)

    bound = np.empty(rows.shape)
    bound[:, 0] = initial
    corners = _corners(times, rows)
    for first, last in pairwise(corners):
        piece = times[first : last + 1]
        solved = solve_ivp(slope, piece[[0, -1]], bound[:, first], "LSODA", piece, rtol=1e-6, atol=1e-8)
        bound[:, first : last + 1] = solved.y
    return bound.reshape(co.shape)


_CORNER = 0.1  # of the steepest slope


def _corners(times, rows) -> np.ndarray:
    """Places where a history bends sharply, and its ends: an integrator that steps over one could miss a pulse."""
    slopes = np.diff(rows, axis=1) / np.diff(times)
    bends = np.abs(np.diff(slopes, axis=1)).max(axis=0)
    return np.r_[0, 1 + np.flatnonzero(bends > _CORNER * np.abs(slopes).max()), times.size - 1]


@quantities(
    "",
    co="ppm",
    pressure="Pa",
    oxygen="",
    at_least={k: _CFK_LEAST[k] for k in ("co", "oxygen", "pressure")},
    at_most={"oxygen": 1.0},
    source=_CFK,
)
def steady_cohb(co, who: Person, pressure=101325.0, oxygen=combustion.OXYGEN_IN_AIR):
    """Where `cohb` ends after a day or more at one concentration: ``r/(1 + r)``, ``r = M (PCO + B VCO) / PO2``.

    co: ppm, number or array; who: a `person`; pressure: Pa; oxygen: mole fraction breathed. What someone does changes
    how soon it is reached and hardly where it ends.
    """
    taken, given = _pressures(co, pressure, oxygen)
    ratio = HALDANE * (taken + who.resistance(pressure) * MADE) / given
    return ratio / (1.0 + ratio)


@quantities(
    "",
    time="s",
    co="ppm",
    initial="",
    pressure="Pa",
    oxygen="",
    at_least={k: v for k, v in _CFK_LEAST.items() if k != "times"},
    at_most=_CFK_MOST,
    source=_CFK,
)
def cohb_linear(time, co, who: Person, initial=BACKGROUND, pressure=101325.0, oxygen=combustion.OXYGEN_IN_AIR):
    """The linear closed form at one concentration: ``x = xs + (x0 - xs) e^(-kt)``, all haemoglobin counted as free.

    ``xs = M (PCO + B VCO) / PO2`` and ``k = PO2 / (M Vb c B)``. time: s; co: ppm; who: a `person`; initial x0;
    pressure: Pa; oxygen: mole fraction; numbers or arrays that broadcast. Good to a tenth up to 10 % COHb, too high
    above.
    """
    taken, given = _pressures(co, pressure, oxygen)
    resistance = who.resistance(pressure)
    end = HALDANE * (taken + resistance * MADE) / given
    return end + (initial - end) * np.exp(-time * np.log(2.0) / half_life.bare(who, pressure, oxygen))


@quantities(
    "s",
    pressure="Pa",
    oxygen="",
    at_least={k: _CFK_LEAST[k] for k in ("oxygen", "pressure")},
    at_most={"oxygen": 1.0},
    source=_CFK,
)
def half_life(who: Person, pressure=101325.0, oxygen=combustion.OXYGEN_IN_AIR):
    """Time in which little COHb falls by half in clean air, s: ``ln 2 M Vb c B / PO2``.

    who: a `person`; pressure: absolute, Pa; oxygen: mole fraction breathed (1 through a tight mask); numbers or arrays.
    Measured ones differ from person to person by a factor of three.
    """
    given = _pressures(0.0, pressure, oxygen)[1]
    return np.log(2.0) * HALDANE * BLOOD * CAPACITY * who.resistance(pressure) / given


# --- One case, judged ------------------------------------------------------------------------------------------------

ROOM = "boiler room"


@dataclass(frozen=True)
class Neighbour:
    """A room beside the boiler room: ``exchange`` [volume flow] of air changes places with it; its own outdoor air."""

    name: str
    volume: Quantity
    air_changes: Quantity
    exchange: Quantity

    def __post_init__(self):
        _check(
            self,
            f"neighbour {self.name!r}",
            {"volume": "m**3", "air_changes": "1/s", "exchange": "m**3/s"},
            above=("volume",),
        )


@dataclass(frozen=True)
class COCase:
    """What a room must stand: flue gas gets into it for some hours.

    ``room_volume``; ``air_changes`` (outdoor air of any origin, volumes a time); ``co_air_free`` ppm in the dry flue
    gas; ``hours`` it goes on; ``initial`` and ``outdoor`` ppm; ``room_temperature``; ``monitor`` ppm at which the
    burners are stopped after ``monitor_delay`` (None: nothing stops them) and spill with them; who is there does
    ``activity``; ``neighbour`` room, or None. Raises ValueError or `UnitsError` naming the field, its value and what
    is valid.
    """

    room_volume: Quantity
    air_changes: Quantity
    co_air_free: Quantity
    hours: Quantity = Q_(8.0, "hour")
    initial: Quantity = Q_(0.0, "ppm")
    outdoor: Quantity = Q_(0.0, "ppm")
    room_temperature: Quantity = Q_(20.0, "degC")
    monitor: Quantity | None = None
    monitor_delay: Quantity = Q_(0.0, "minute")
    activity: str = "light work"
    neighbour: Neighbour | None = None

    def __post_init__(self):
        units = {"room_volume": "m**3", "air_changes": "1/s", "co_air_free": "ppm", "hours": "s", "initial": "ppm"}
        units |= {"outdoor": "ppm", "room_temperature": "K", "monitor_delay": "s"}
        units |= {} if self.monitor is None else {"monitor": "ppm"}
        _check(self, "CO case", units, above=("room_volume", "hours", "room_temperature", "monitor"))
        if self.hours > Q_(MOST_HOURS, "hour"):
            raise ValueError(f"CO case: hours = {self.hours:~P}; a history is worked for at most {MOST_HOURS:g} h")
        if self.co_air_free > Q_(1e6, "ppm"):
            raise ValueError(f"CO case: co_air_free = {self.co_air_free:~P} is more than all of the gas")
        person(self.activity)

    @property
    def rooms(self) -> tuple[str, ...]:
        """Names of the rooms, the boiler room first."""
        return (ROOM,) if self.neighbour is None else (ROOM, self.neighbour.name)


MOST_HOURS = 72.0


def _check(case: Any, name: str, units: Mapping[str, str], above: tuple[str, ...]) -> None:
    """Refuse a field of a wrong unit, or one that is negative (or zero, where it is named in ``above``)."""
    for field, unit in units.items():
        value = magnitude(getattr(case, field), ureg.Unit(unit), f"{name}: {field}")
        if not np.isfinite(value) or value < 0.0 or (field in above and value == 0.0):
            words = "above 0" if field in above else "0 or more"
            raise ValueError(f"{name}: {field} = {getattr(case, field):~P} must be {words}")


@dataclass(frozen=True, eq=False)  # arrays do not compare as one value
class Exposure:
    """A judged case, plain SI; infinite times mean never.

    ``times`` [s]; ``co`` [ppm] and ``blood`` [share of COHb at the case's activity, `judged_cohb`] (rooms, times);
    ``judged`` limit by limit and room by room; ``alarms`` of every standard per room; ``heavy`` [s] when someone at
    heavy work would carry 10 % COHb, per room; ``steady`` [ppm] where each room would end, unstopped; ``stopped`` [s]
    when the monitor stopped the burners; ``spill`` [kg/s], its ``flow`` [m3/s] and ``flow_co`` [ppm].
    """

    case: COCase
    times: np.ndarray
    co: np.ndarray
    blood: np.ndarray
    judged: tuple[Judged, ...]
    alarms: tuple[tuple[AlarmBand, ...], ...]
    heavy: tuple[float, ...]
    steady: tuple[float, ...]
    stopped: float
    spill: float
    flow: float
    flow_co: float

    @property
    def failed(self) -> tuple[Judged, ...]:
        """Limits that were passed, the boiler room's first."""
        return tuple(j for j in self.judged if j.verdict == "fail")

    @property
    def harmful(self) -> tuple[Judged, ...]:
        """Those of them at which people come to harm, not guidelines of air alone."""
        return tuple(j for j in self.failed if j.limit.weight == "harm")


# What judged COHb is raised by: the equation lies below 23 of the 26 printed figures (CM10 to CM35 of the checks); so
# raised, it lies at or above all but CM31, the middle of a printed range of 8 to 10 %, whose lower end it passes.
COHB_MARGIN = 1.12


def judged_cohb(times, co, who: Person, pressure: float):
    """`cohb` of a history raised by `COHB_MARGIN`, all plain SI: what people are judged by."""
    return np.minimum(COHB_MARGIN * cohb.bare(times, co, who, pressure=pressure), 1.0)


STEPS = 480  # of a history at least; a step is a minute at most


def judge(case: COCase, spill: Quantity, products: Products, pressure: Quantity, burnt: float = 1.0) -> Exposure:
    """What ``spill`` [mass flow] of flue gas into the boiler room leads to, against every limit.

    products: of the fuel and excess air that burn (`combustion.products`); pressure: absolute, of the place; burnt:
    mole share of flue gas in what comes (`burnt_share`); 1 counts all of it as flue gas, which errs on the high side.
    """
    flow, flow_co = spilled(spill, products, case.co_air_free, case.room_temperature, pressure, burnt)
    flow, flow_co = float(flow.m_as("m**3/s")), float(flow_co.m_as("ppm"))
    times = _times(case)
    co, steady, stopped = _histories(case, times, flow, flow_co)
    before = float(case.initial.m_as("ppm"))
    rooms = list(zip(case.rooms, co, strict=True))
    absolute = float(pressure.m_as("Pa"))
    heavy = judged_cohb(times, co, person("heavy work"), absolute)
    return Exposure(
        case=case,
        times=times,
        co=co,
        blood=judged_cohb(times, co, person(case.activity), absolute),
        judged=tuple(judge_limit(name, limit, times, c, before) for name, c in rooms for limit in limits()),
        alarms=tuple(tuple(alarm_band(times, c, standard) for standard in alarm_standards()) for c in co),
        heavy=tuple(_first_above(times, x, ALARM_COHB) for x in heavy),
        steady=tuple(float(c) for c in steady),
        stopped=stopped,
        spill=float(spill.m_as("kg/s")),
        flow=flow,
        flow_co=flow_co,
    )


def _times(case: COCase) -> np.ndarray:
    end = float(case.hours.m_as("s"))
    return np.linspace(0.0, end, max(STEPS, int(np.ceil(end / 60.0))) + 1)


def _own_air(case: COCase) -> np.ndarray:
    """Outdoor air of each room [m3/s]."""
    pairs = [(case.room_volume, case.air_changes)]
    pairs += [] if case.neighbour is None else [(case.neighbour.volume, case.neighbour.air_changes)]
    return np.array([float((volume * changes).m_as("m**3/s")) for volume, changes in pairs])


def _histories(case: COCase, times, flow: float, flow_co: float):
    """Concentrations (rooms, times), where they would end, and when the monitor stopped the burners."""
    beside = case.neighbour
    volumes = np.array([v.m_as("m**3") for v in (case.room_volume, *([beside.volume] if beside else []))])
    exchange = np.zeros((len(volumes), len(volumes)))
    if beside:
        exchange[0, 1] = exchange[1, 0] = float(beside.exchange.m_as("m**3/s"))
    spill = np.zeros((1, len(volumes)))
    spill[0, 0] = flow
    around = (float(case.initial.m_as("ppm")), float(case.outdoor.m_as("ppm")))

    def through(times, starts, spills):
        return history.bare(times, starts, volumes, _own_air(case), exchange, spills, flow_co, *around)

    co, steady = through(times, 0.0, spill), through(np.array([_FOREVER]), 0.0, spill)[:, 0]
    if case.monitor is None:
        return co, steady, np.inf
    stopped = _first_above(times, co[0], float(case.monitor.m_as("ppm"))) + float(case.monitor_delay.m_as("s"))
    if stopped == 0.0:
        co = through(times, 0.0, 0.0 * spill)
    elif stopped < times[-1]:
        co = through(times, np.array([0.0, stopped]), np.vstack([spill, 0.0 * spill]))
    return co, steady, stopped if stopped < times[-1] else np.inf


_FOREVER = 1e9  # s


def _first_above(times, values, level: float) -> float:
    """When a history first comes to a level, between its times by a straight line; infinite where it never does."""
    at = int(np.argmax(values >= level))
    if values[at] < level:
        return np.inf
    return float(np.interp(level, values[at - 1 : at + 1], times[at - 1 : at + 1])) if at else float(times[0])


# --- In words --------------------------------------------------------------------------------------------------------


def clock(seconds: float) -> str:
    """A time as people say it: "15 min", "8 h", "1 h 20 min"."""
    minutes = round(seconds / 60.0)
    hours, rest = divmod(minutes, 60)
    return f"{rest} min" if not hours else f"{hours} h" if not rest else f"{hours} h {rest} min"


CAUTION = (
    "If a carbon monoxide alarm sounds: leave, call the emergency services from outside, and do not go back in. No "
    "figure here is a reason to stay. Limits differ by edition and place: check what your jurisdiction adopted."
)


def sentences(found: Exposure, system: str = "US") -> tuple[str, ...]:
    """A judged case in plain sentences, in "US" or "SI" units: the source, what stops it, each room, the caution."""
    case, end = found.case, clock(found.times[-1])
    share = found.flow_co
    words = [
        f"{show(Q_(found.spill, 'kg/s'), system, 'mass flow')} of flue gas go into the {ROOM}; with "
        f"{case.co_air_free.m_as('ppm'):,.0f} ppm of carbon monoxide air-free it carries {share:,.0f} ppm as it comes."
    ]
    if np.isfinite(found.stopped):
        words.append(
            f"The monitor stops the burners after {clock(found.stopped)}, at {case.monitor.m_as('ppm'):,.0f} ppm in "
            f"the {ROOM}; what it needs and at which level is for the code to say."
        )
    for k, room in enumerate(case.rooms):
        words += _room_sentences(found, k, room, end)
    return (*words, CAUTION)


def _room_sentences(found: Exposure, k: int, room: str, end: str) -> list[str]:
    judged = [j for j in found.judged if j.room == room]
    failed = sorted((j for j in judged if j.verdict == "fail"), key=lambda j: j.over)
    undecided = [j.limit.name for j in judged if j.verdict not in ("pass", "fail")]
    words = [f"In the {room} it is at most {found.co[k].max():,.0f} ppm within {end}."]
    if failed:
        first, worst = failed[0], max(failed, key=lambda j: j.worst / j.limit.level)
        words.append(
            f"{len(failed)} of {len(judged)} limits fail there. First: {first.limit.cited}, after {clock(first.over)}. "
            f"Worst: {worst.limit.cited}, by {worst.by:,.0f} ppm."
        )
    else:
        words.append(f"No limit of the table fails there within {end}; that is no leave to stay.")
    if undecided:
        words.append(f"Means over longer than {end} need the authority's reading: {'; '.join(undecided)}.")
    words += [_alarm_sentence(band, end) for band in found.alarms[k]]
    words.append(
        f"Someone at {found.case.activity} there the whole time would carry {found.blood[k].max():.1%} COHb at most "
        f"(a healthy adult by the CFK equation, raised by {COHB_MARGIN - 1.0:.0%}; no medical figure)."
    )
    return words


def _alarm_sentence(band: AlarmBand, end: str) -> str:
    row = next(row for row in facts("alarm") if row["body"] == band.standard)
    named = f"A residential alarm ({row['source']}; edition: {row['edition']})"
    if np.isinf(band.earliest):
        return f"{named} need not sound within {end}."
    latest = "need not sound at all" if np.isinf(band.latest) else f"must by {clock(band.latest)}"
    return f"{named} may sound from {clock(band.earliest)} on and {latest}, if its test points are read as assumed."
