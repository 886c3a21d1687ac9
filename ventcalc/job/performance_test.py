"""Functional performance test: what a technician can bring about, and what every gauge should show then.

A few conditions out of all those that were solved, each told by what to set, and for every place where something can be
read the value expected in the weather of the day, with its band: how far a reading may be off it before it says that
something is not as designed. A band adds up what is uncertain of the vent (sensor, a step of the actuator, a quarter of
the loss to where pressure is known: `margins`), of the burner's setting, of the weather, and of the instrument.

All conditions are at rest on a hot stack, met from hot: wait until the temperature at the foot of the stack stands
still. `site_record` judges what was read.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property, lru_cache

import numpy as np

from ventcalc import tables
from ventcalc.door import door
from ventcalc.draft import fan_curve, fan_drive, held_pressure
from ventcalc.draft.held_pressure import HEADER
from ventcalc.flow.wind import CASES
from ventcalc.gas import atmosphere, combustion
from ventcalc.job import margins, remedy_outcome
from ventcalc.job.job_file import Job
from ventcalc.job.margins import LOSS_DOUBT
from ventcalc.job.remedy import Remedy
from ventcalc.job.study import Study
from ventcalc.units import Q_, Quantity, magnitude, parse, ureg
from ventcalc.vent import end_of_header, firing_states
from ventcalc.vent.common_vent import solve_network
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import Itself, Season, compile_network, room_vapor
from ventcalc.vent.states import States
from ventcalc.words import say

MOST_CONDITIONS = 10  # an hour or two on site (common practice, no source)

# How far the vent and the day may be off what is put in (design values; common practice, no source).
GAS_DOUBT = Q_(15.0, "delta_degC")  # of the temperature of flue gas at an outlet
OXYGEN_DOUBT = 0.005  # of the dry flue gas, as a burner is set
COOLING_DOUBT = 0.30  # of what gas loses to the walls
OUTDOOR_DOUBT = Q_(1.0, "delta_degC")  # of the air around the stack against where it was read
LIKELY_WEATHER = (
    0.07  # of the standard pressure at the altitude: what a barometer may show (from memory: 5 % in storms)
)

PRESSURE, TEMPERATURE, OXYGEN, POSITION, SPEED, CARBON_DIOXIDE, CARBON_MONOXIDE, VELOCITY, SURFACE = QUANTITIES = (
    "pressure",
    "gas temperature",
    "O2",
    "damper position",
    "fan speed",
    "CO2",
    "CO",
    "velocity",
    "surface temperature",
)
# The SI unit of each, that of a difference, and how it is shown (`units.show`).
UNITS = dict.fromkeys(QUANTITIES, "") | {PRESSURE: "Pa", TEMPERATURE: "K", SURFACE: "K", VELOCITY: "m/s"}
OFF_UNITS = UNITS | {TEMPERATURE: "delta_degC", SURFACE: "delta_degC"}
KINDS = dict.fromkeys(QUANTITIES, "ratio") | {
    PRESSURE: "draft",
    TEMPERATURE: "temperature",
    SURFACE: "temperature",
    VELOCITY: "velocity",
}

OUTLET, GAUGE, SENSOR, FOOT, DAMPER, FAN = "outlet", "gauge", "sensor", "foot", "damper", "fan"  # kinds of `Place`

# An instrument is off anywhere within its error, each as likely: JCGM 100:2008, 4.3.7, one standard deviation of it.
ONE_SIGMA = 3.0**-0.5


@dataclass(frozen=True)
class Instrument:
    """What one quantity is read with: off by ``error`` [SI] and by a ``share`` of the reading; ``least`` and ``most``
    [SI] that can be read at all."""

    name: str
    error: float
    share: float
    least: float
    most: float

    def off(self, value):
        """How far a reading may be off at a value; plain numbers or arrays."""
        return self.error + self.share * np.abs(value)

    def deviation(self, value):
        """One standard deviation of a reading at a value; likewise."""
        return ONE_SIGMA * self.off(value)


@cache
def instruments() -> dict[str, Instrument]:
    """The instrument of each quantity, from ``data/job/instruments.csv``."""

    def made(row: dict[str, str]) -> Instrument:
        quantity = row["quantity"]
        ends = (float(parse(f"{row[end]} {row['read_unit']}").m_as(UNITS[quantity])) for end in ("least", "most"))
        error = float(Q_(float(row["error"]), row["unit"]).m_as(OFF_UNITS[quantity]))
        return Instrument(row["instrument"], error, float(row["share"]), *ends)

    return {row["quantity"]: made(row) for row in tables.read("instruments")}


@dataclass(frozen=True)
class Weather:
    """Weather and room of a day on site.

    ``barometer`` is the pressure at the site, not reduced to sea level (None: the standard's at its altitude), ``wind``
    the speed at roof height (None: not told, and taken as calm). What else a season tells is that of the job's season
    nearest in temperature. Raises ValueError or `UnitsError` naming what cannot be.
    """

    outdoor: Quantity
    room: Quantity
    barometer: Quantity | None = None
    wind: Quantity | None = None

    def __post_init__(self):
        self.season(Season("", Q_(0.0, "degC"), Q_(20.0, "degC")))
        if self.barometer is not None:
            magnitude(self.barometer, ureg.Unit("Pa"), "barometer")

    def season(self, nearest: Season) -> Season:
        """The day as a season, with all else from another."""
        calm = Q_(0.0, "m/s")
        return replace(nearest, name="on the day", outdoor=self.outdoor, room=self.room, wind=self.wind or calm)

    def at(self, plant: Plant) -> Plant:
        """The plant at the altitude at which the standard has this day's pressure.

        Raises ValueError where that is no weather of the site, as of a barometer reduced to sea level.
        """
        if self.barometer is None:
            return plant
        usual, read = atmosphere.standard_pressure(plant.altitude), self.barometer.to("Pa")
        if not abs(float((read / usual).m_as("")) - 1.0) <= LIKELY_WEATHER:
            raise ValueError(
                f"barometer {self.barometer:.4g~P}: at this site {usual.to(self.barometer.units):.4g~P} is usual, "
                f"within {LIKELY_WEATHER:.0%}; give the pressure there, not reduced to sea level"
            )
        return replace(plant, altitude=atmosphere.pressure_altitude(read))


@dataclass(frozen=True)
class Condition:
    """Something a technician can bring about: ``levels``, what each appliance does, in the plant's order.

    ``code`` and ``subject``, an appliance or "", are what its name is made of.
    """

    code: str
    subject: str
    levels: tuple[str, ...]

    @property
    def name(self) -> str:
        """What the record calls it."""
        level = next((level for level in self.levels if level != "off"), "off")
        return say("job", "performance_test", self.code, appliance=self.subject, level=level)

    def codes(self, plant: Plant) -> list[int]:
        """The index of each appliance's state."""
        return [a.states.index(level) for a, level in zip(plant.appliances, self.levels, strict=True)]


@dataclass(frozen=True)
class Place:
    """Where something is read: its ``kind``, and the ``appliance`` whose outlet it is, or ""."""

    kind: str
    appliance: str = ""

    @property
    def name(self) -> str:
        """What the record calls it."""
        return say("job", "performance_place", self.kind, appliance=self.appliance)


@dataclass(frozen=True)
class Asked:
    """One line of the sheet: in which condition what is read where."""

    condition: Condition
    place: Place
    quantity: str

    @property
    def key(self) -> tuple[str, str, str]:
        """What the record knows it by."""
        return self.condition.name, self.place.name, self.quantity


@dataclass(frozen=True)
class Expected:
    """What a gauge should show: ``value`` and the ``band`` it may be off, in the SI unit of `UNITS`; NaN where the vent
    was not solved. ``error`` is the instrument's share of the band, the sensor's own where that shows it; ``held``
    whether a control stands at its set point then."""

    asked: Asked
    value: float
    band: float
    error: float
    held: bool


def design(study: Study) -> Study:
    """The design that is tested: the one that is reported on, so the vent as drawn where that may be built."""
    return study.reported


def conditions(plant: Plant) -> tuple[Condition, ...]:
    """What to bring about, at most `MOST_CONDITIONS`, each once; few where a plant has few states.

    From all off to all at their highest, the smallest and the largest alone, then each one idle beside all others, the
    largest first, then every other alone.
    """
    found: dict[tuple[str, ...], Condition] = {}
    for condition in _wanted(plant):
        found.setdefault(condition.levels, condition)
    return tuple(found.values())[:MOST_CONDITIONS]


def _wanted(plant: Plant) -> Iterator[Condition]:
    every = plant.appliances
    size = [float(a.levels[-1].heat_input.m_as("W")) for a in every]
    by_size = sorted(range(len(every)), key=lambda i: -size[i])
    low, high = ([a.levels[k].name for a in every] for k in (0, -1))
    off = [a.states[0] for a in every]

    def but(levels: list[str], i: int, other: str) -> tuple[str, ...]:
        return (*levels[:i], other, *levels[i + 1 :])

    smallest, largest = min(range(len(every)), key=size.__getitem__), by_size[0]
    yield Condition("all_off", "", tuple(off))
    yield Condition("alone", every[smallest].name, but(off, smallest, low[smallest]))
    yield Condition("alone", every[largest].name, but(off, largest, high[largest]))
    yield Condition("all_low", "", tuple(low))
    yield Condition("all_high", "", tuple(high))
    for i in by_size:
        yield Condition("idle_beside", every[i].name, but(high, i, off[i]))
    for i in by_size:
        yield Condition("alone", every[i].name, but(off, i, high[i]))


def sheet(tested: Study) -> tuple[Asked, ...]:
    """Every line of the sheet of a design, condition by condition."""
    remedy, plant = tested.outcome.remedy, tested.job.plant
    return tuple(Asked(c, place, what) for c in conditions(plant) for place, what in _read_in(c, remedy, plant))


def _read_in(condition: Condition, remedy: Remedy, plant: Plant) -> Iterator[tuple[Place, str]]:
    for a in plant.appliances:
        yield Place(OUTLET, a.name), PRESSURE
    yield Place(GAUGE), PRESSURE
    if HEADER in margins.governing(remedy.controls):
        yield Place(SENSOR), PRESSURE
    firing = [a for a, level in zip(plant.appliances, condition.levels, strict=True) if level != "off"]
    for a in firing:
        yield Place(OUTLET, a.name), TEMPERATURE
        yield Place(OUTLET, a.name), OXYGEN
    if firing:
        yield Place(FOOT), TEMPERATURE
        if remedy.damper:
            yield Place(DAMPER), POSITION
        if remedy.fan:
            yield Place(FAN), SPEED


@door(outdoor="K")
def nearest_season(job: Job, outdoor: Quantity) -> Season:
    """The season of a job whose outdoor temperature is nearest."""
    return min(job.seasons, key=lambda s: abs(float(s.outdoor.m_as("K")) - float(outdoor.m_as("K"))))


def likely_weather(job: Job) -> Weather:
    """The weather that a blank sheet is printed for: the middle one of the job's seasons, calm."""
    seasons = sorted(job.seasons, key=lambda s: float(s.outdoor.m_as("K")))
    middle = seasons[len(seasons) // 2]
    return Weather(middle.outdoor, middle.room)


def expected(study: Study, weather: Weather) -> tuple[Expected, ...]:
    """What every gauge should show in each condition of `sheet`, in the weather of the day.

    Raises ValueError for a barometer that is none of the site's.
    """
    return _expected(Itself(study), weather)


@lru_cache(maxsize=4)  # a record is written, read and judged by the same rows
def _expected(study: Itself, weather: Weather) -> tuple[Expected, ...]:
    tested = design(study.it)
    as_it_is, hotter = (_Solved(tested, weather, by) for by in (0.0, float(GAS_DOUBT.m_as("delta_degC"))))
    return tuple(_row(asked, as_it_is, hotter) for asked in sheet(tested))


def _row(asked: Asked, solved: "_Solved", hotter: "_Solved") -> Expected:
    """Value and band of one line; see the head of the module."""
    k, errors = solved.number(asked.condition), instruments()[asked.quantity]
    values, doubt, error = solved.read(asked)
    moved = hotter.read(asked)[0]
    value = float(values[k])
    weather = np.max(np.abs(values[k :: solved.count] - value), initial=0.0)
    error = float(errors.off(value) if error is None else error)
    band = float(doubt[k] + abs(moved[k] - value) + weather + error)
    return Expected(asked, value, band, error, bool(solved.holding[k]))


def _scan(plant: Plant, seasons: tuple[Season, ...], states: States) -> Scan:
    """The vent in these states; where every burner forces its flow its past makes no difference."""
    if not remedy_outcome.forced(plant):
        return firing_states.of_states(plant, seasons, states, len(states), True)
    return Scan(plant, seasons, solve_network(compile_network(plant, seasons), states), len(states), True)


class _Solved:
    """A design in every condition of its sheet, in the day's weather, its flue gas ``by`` [K] hotter.

    Columns: each condition in calm, then again with the air outdoors warmer by `OUTDOOR_DOUBT`, then in each case of
    the wind, where one blows.
    """

    def __init__(self, tested: Study, weather: Weather, by: float):
        asked, today = conditions(tested.job.plant), weather.season(nearest_season(tested.job, weather.outdoor))
        warmer = replace(today, outdoor=Q_(float((today.outdoor.to("K") + OUTDOOR_DOUBT).m), "K"))
        plant = weather.at(_hotter(tested.job.plant, by))
        self.names, self.count = [c.name for c in asked], len(asked)
        states = _states(plant, asked, float(today.wind.m_as("m/s")) > 0.0)
        job = replace(tested.design.job, plant=plant, seasons=(today, warmer))
        remedy = replace(tested.outcome.remedy, plant=plant, start=None)
        scan = _scan(plant, job.seasons, states)
        self.outcome = remedy_outcome.outcome(job, remedy, scan, rough=True)
        self.scan = self.outcome.scan
        self.plant, self.columns = plant, np.arange(len(states))
        self.doubts: dict[Callable, np.ndarray] = {}
        self.control = margins.governing(remedy.controls).get(HEADER)
        held = self.outcome.held
        self.holding = np.zeros(len(states), bool)
        if self.control is not None:
            self.holding = held.acts[self.control] & ~held.missed[self.control] & held.settled

    def number(self, condition: Condition) -> int:
        """The column of a condition in calm."""
        return self.names.index(condition.name)

    def read(self, asked: Asked) -> tuple[np.ndarray, np.ndarray, np.ndarray | float | None]:
        """A line's value and doubt in every column; and the error that stands in for that of the instrument, if any."""
        values, doubt, error = _READ[asked.place.kind, asked.quantity](self, asked)
        settled = self.outcome.settled[self.columns]
        return np.where(settled, values[self.columns], np.nan), doubt[self.columns], error

    def outlet_pressure(self, asked: Asked):
        """Its outlet, held or not."""
        i = [a.name for a in self.plant.appliances].index(asked.place.appliance)
        return self.scan.solution.outlet_pressure[i], self._doubt(margins.uncertainty)[i], None

    def header(self, asked: Asked):
        """The end of the header by a gauge beside the sensor."""
        network = compile_network(self.plant, self.scan.seasons)
        pressure = end_of_header.far_end_pressure(self.scan.solution, network)
        return pressure, self._doubt(margins.header_uncertainty), None

    def sensor(self, asked: Asked):
        """What the control shows of its sensor: its set point while it holds that, whatever the sensor is off."""
        pressure, doubt, _ = self.header(asked)
        off = self.outcome.sensors[self.control]
        own = np.where(self.holding, np.maximum(doubt - off, 0.0), doubt)
        return pressure, own, off

    def _doubt(self, of) -> np.ndarray:
        """What is uncertain of a pressure: by the sensor where it is held, else by the way to the open."""
        o = self.outcome
        if of not in self.doubts:
            free = of(self.scan, None, ())
            held = free if o.held is None else np.where(self._held_there, of(self.scan, o.held, o.sensors), free)
            self.doubts[of] = held
        return self.doubts[of]

    @property
    def _held_there(self) -> np.ndarray:
        held = self.outcome.held
        return (held.acts & ~held.missed).any(axis=0) & held.settled

    def gas_temperature(self, asked: Asked):
        """Gas in the connector: as the appliance makes it, thinned where its hood or regulator draws air."""
        i = [a.name for a in self.plant.appliances].index(asked.place.appliance)
        values = self.scan.solution.upstream[self.plant.row(self.plant.feeds[i])]
        network = compile_network(self.plant, self.scan.seasons)
        states = self.scan.states
        made = network.temperature[i][states.season, states.codes[i].astype(int)]
        return values, 0.5 * LOSS_DOUBT * np.abs(made - values), None  # flow goes by the root of a loss

    def foot_temperature(self, asked: Asked):
        """Gas at the foot of the stack: what it lost on its way is uncertain."""
        solution, feeds = self.scan.solution, [self.plant.row(f) for f in self.plant.feeds]
        values = solution.downstream[self.plant.row(held_pressure.stack_base(self.plant))]
        flow = np.maximum(solution.flow[feeds], 0.0)
        total = np.maximum(flow.sum(axis=0), 1e-12)
        came = (flow * solution.upstream[feeds]).sum(axis=0) / total
        return values, COOLING_DOUBT * np.abs(came - values), None

    def oxygen(self, asked: Asked):
        """Oxygen in the dry flue gas at the outlet, ahead of any dilution."""
        i = [a.name for a in self.plant.appliances].index(asked.place.appliance)
        a, season = self.plant.appliances[i], self.scan.seasons[0]
        level = next(lv for lv in a.levels if lv.name == asked.condition.levels[i])
        vapor = room_vapor(season, self.scan.solution.barometric, a.room)
        value = float(combustion.products.bare(a.fuel, level.excess_air, vapor).o2_dry)
        return np.full(self.columns.size, value), np.full(self.columns.size, OXYGEN_DOUBT), None

    def damper(self, asked: Asked):
        """Its position; what there is to destroy is uncertain by a quarter of the loss to the open."""
        o, damper = self.outcome, self.outcome.remedy.damper
        row = self.plant.row(held_pressure.stack_base(self.plant))
        destroyed = -(o.held.second[0] if o.remedy.fan else o.held.added[0])
        density = self.scan.solution.density[row]
        flow = self.scan.solution.flow[row] / density
        ends = [damper.position_for(destroyed + s * self._free, flow, density) for s in (1.0, -1.0)]
        doubt = np.maximum(*(np.abs(end - o.position) for end in ends)) + o.actuator_step
        return o.position, doubt, None

    def fan(self, asked: Asked):
        """Its speed over the rated one; what it must add is uncertain by a quarter of the loss to the open."""
        o, drive, total = self.outcome, self.outcome.remedy.fan, len(self.scan.states)
        k = next(k for k, c in enumerate(o.held.controls) if c.sensor == HEADER)
        area = self.plant.section(o.held.controls[k].section).area
        flow, density = np.maximum(o.held.flow[k], 0.0), o.held.density[k]
        static = o.held.added[k] - fan_drive.own_head(drive.fan, flow, density, area)

        def speed(pressure):
            found = fan_curve.speed_for.bare(drive.fan, flow, pressure, density)
            return np.clip(np.nan_to_num(found, nan=drive.most_speed), drive.least_speed, drive.most_speed)

        values = np.full(total, np.nan)
        values[o.duty.states] = o.duty.speed
        ends = [speed(static + s * self._free) for s in (1.0, -1.0)]
        return values, np.maximum(*(np.abs(end - values) for end in ends)), None

    @cached_property
    def _free(self) -> np.ndarray:
        """What is uncertain [Pa] of what the vent itself makes between the header and the open."""
        return margins.header_uncertainty(self.scan, None, ())


_READ = {
    (OUTLET, PRESSURE): _Solved.outlet_pressure,
    (GAUGE, PRESSURE): _Solved.header,
    (SENSOR, PRESSURE): _Solved.sensor,
    (OUTLET, TEMPERATURE): _Solved.gas_temperature,
    (OUTLET, OXYGEN): _Solved.oxygen,
    (FOOT, TEMPERATURE): _Solved.foot_temperature,
    (DAMPER, POSITION): _Solved.damper,
    (FAN, SPEED): _Solved.fan,
}


def _states(plant: Plant, asked: Sequence[Condition], windy: bool) -> States:
    """Each condition in calm, in air 1 K warmer, and in every case of the wind."""
    codes = np.array([c.codes(plant) for c in asked]).T
    cases = [0] if plant.exposure is None else list(range(1, len(CASES)))
    blocks = [(0, 0, 0), (1, 0, 0), *((0, 1, case) for case in cases if windy)]
    season, wind, case = (np.repeat([b[n] for b in blocks], len(asked)) for n in range(3))
    still = np.zeros(season.size, bool)
    told = None if plant.exposure is None else case
    return States(np.tile(codes, len(blocks)), season, still, wind.astype(bool), told)


def _hotter(plant: Plant, by: float) -> Plant:
    """The plant with flue gas so much hotter [K], of every appliance at every level."""
    if not by:
        return plant

    def heated(level):
        return replace(level, flue_temperature=Q_(float(level.flue_temperature.m_as("K")) + by, "K"))

    hot = tuple(replace(a, levels=tuple(heated(level) for level in a.levels)) for a in plant.appliances)
    return replace(plant, appliances=hot)
