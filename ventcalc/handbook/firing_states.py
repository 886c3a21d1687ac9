"""Firing states: load changes in time, a vent that remembers, checks, live controls that narrow a scan, questions."""

from dataclasses import dataclass, replace
from functools import cache, partial
from itertools import product

import ipywidgets as widgets
import numpy as np
from IPython.display import HTML
from matplotlib.figure import Figure

from ventcalc import tables
from ventcalc.checked import Check, compare
from ventcalc.draft import load_changes
from ventcalc.draft.load_changes import Followed
from ventcalc.flow import friction, warm_up, wind
from ventcalc.flow.materials import Layer, material
from ventcalc.gas.appliance import Appliance, FiringLevel
from ventcalc.gas.fuels import fuel
from ventcalc.handbook.common_vent import DOES, Outlet, draft_text, outlets_drawing, swim_hall
from ventcalc.job import remedy_outcome
from ventcalc.job.remedy import as_drawn
from ventcalc.job.study import Study, assess
from ventcalc.show.axes import axis, legend, number, picture, plain, row_of_axes
from ventcalc.show.exercises import Exercise
from ventcalc.show.panels import Panel, choice, no_picture, paragraph, table
from ventcalc.show.plots import BLUE, GREY, INK, PALE, RUST
from ventcalc.show.prediction import Prediction
from ventcalc.show.prediction import load as predict
from ventcalc.show.questions import load
from ventcalc.show.writing import Writing
from ventcalc.show.writing import load as load_writing
from ventcalc.units import Q_, Quantity, show
from ventcalc.vent import firing_states, network, outlet_envelope, root_census, time_step, transient
from ventcalc.vent.common_vent import solve
from ventcalc.vent.course import Course
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.layout import Plant, Section, Termination
from ventcalc.vent.network import Season
from ventcalc.vent.reversal import flue_gas_in_room
from ventcalc.vent.states import States
from ventcalc.vent.worst_state import SAME_PRESSURE, worst

# --- The swimming hall over all its states --------------------------------------------------------------------


@cache
def hall_study() -> Study:
    """The swimming hall as drawn: its scan over all states, envelopes and reversals, no remedy tried."""
    job = swim_hall()
    scan = firing_states.scan(job.plant, job.seasons)
    return assess(job, remedy_outcome.outcome(job, as_drawn(job), scan))


def boilers_table(system: str = "US") -> HTML:
    """What each boiler of the hall may be doing, and the window at its outlet."""
    rows = []
    for a in swim_hall().plant.appliances:
        levels = ", ".join(f"{level.name} {show(level.heat_input, system)}" for level in a.levels)
        window = " to ".join(show(edge, system, "draft") for edge in a.window)
        rows.append((a.name, window, levels, ", ".join(a.states)))
    return HTML(table(("boiler", "window at its outlet", "levels", "what it may be doing"), rows))


def seasons_table(system: str = "US") -> HTML:
    """The seasons of the hall."""
    seasons = swim_hall().seasons
    rows = [(s.name, show(s.outdoor, system), show(s.room, system), show(s.wind, system, "wind")) for s in seasons]
    return HTML(table(("season", "outdoors", "room", "wind"), rows))


def envelopes_table(found: Study, system: str = "US") -> HTML:
    """Every outlet's lowest and highest pressure, with the state that causes it, and its swing."""
    rows = []
    for e in found.envelopes:
        low, high = (
            f"{draft_text(pressure, system)}: {found.scan.describe(state, system)}"
            for pressure, state in ((e.low, e.low_state), (e.high, e.high_state))
        )
        window = " to ".join(draft_text(edge, system) for edge in e.window)
        rows.append((e.appliance, low, high, draft_text(e.swing, system), window))
    return HTML(table(("outlet", "lowest", "highest", "swing", "window"), rows))


def parts_table(scan: Scan, system: str = "US") -> HTML:
    """The first boiler's envelope for parts of the states: each season, a hot stack and a cold one."""
    pressure, runs, rows = scan.solution.outlet_pressure[0], scan.running(0), []
    for i, season in enumerate(scan.seasons):
        for cold in (False, True):
            part = pressure[runs & (scan.states.season == i) & (scan.states.cold == cold)]
            ends = float(part.min()), float(part.max()), float(np.ptp(part))
            rows.append((season.name, "cold" if cold else "hot", *(draft_text(p, system) for p in ends)))
    return HTML(table(("season", "stack", "lowest", "highest", "swing"), rows))


def wind_table(system: str = "US") -> HTML:
    """What the winter's wind does to terminal and room of the hall, and by how much it moves an outlet."""
    own, rows = swim_hall(), []
    cases = wind.wind_cases(own.plant.exposure, [(t.cap, t.place, t.side) for t in own.plant.terminations])
    head = Q_(float(network.compile_network(own.plant, own.seasons).wind_head[0]), "Pa")
    for name, terminal, room in zip(wind.CASES, cases.terminal[0], cases.room, strict=True):
        moved = show((terminal - room) * head, system, "draft")
        rows.append((name, f"{terminal:+.2f}", f"{room:+.2f}", moved))
    named = f"moves an outlet by (head {show(head, system, 'draft')})"
    return HTML(table(("wind", "terminal", "room", named), rows))


def reversals_table(found: Study, system: str = "US") -> HTML:
    """Where flue gas enters the room: through which idle boiler, how much, in how many states, in which worst."""
    rows = []
    for r in found.reversals:
        burnt, most = (show(Q_(v, "kg/s"), system) for v in (r.flue_gas, r.most))
        counted = f"{r.states} of {len(found.scan.conditions)}"
        rows.append((r.appliance, burnt, counted, most, str(r.most_states), found.scan.describe(r.state, system)))
    header = ("through", "flue gas, up to", "states", "of any gas, up to", "states", "worst state")
    return HTML(table(header, rows))


@cache
def sampled(most: int) -> Scan:
    """The hall's scan with so low a limit on its states that it must sample and search."""
    return firing_states.scan(swim_hall().plant, swim_hall().seasons, most=most)


def sample_table(most: int, system: str = "US") -> HTML:
    """Every outlet's range by a random sample, by the search that starts from it, and over all states."""
    found, few, rows = hall_study(), sampled(most), []
    scan = found.scan
    drawn = np.unique(np.random.default_rng(0).integers(0, few.possible, most))  # the sample before the search
    for i, (e, s) in enumerate(zip(found.envelopes, outlet_envelope.envelopes(few), strict=True)):
        part = scan.solution.outlet_pressure[i, drawn][scan.running(i)[drawn]]
        ends = (float(part.min()), float(part.max())), (s.low, s.high), (e.low, e.high)
        rows.append((e.appliance, *(f"{draft_text(a, system)} to {draft_text(b, system)}" for a, b in ends)))
    header = (
        f"sample of {len(drawn)}",
        f"with the search, {len(few.conditions)} states",
        f"all {len(scan.conditions)}",
    )
    return HTML(table(("outlet", *header), rows))


# --- The first seconds ----------------------------------------------------------------------------------------


def load_change(plant: Plant, seasons: tuple[Season, ...]) -> Followed:
    """Two changes of the first appliance: lit from idle in the last season, turned down from full fire in the first."""
    every = load_changes.usual(plant, seasons, only=(0,))
    name, last = plant.appliances[0].name, len(seasons) - 1
    wanted = ((f"{name} lit, all idle before", last), (f"{name} turned down from highest to lowest", 0))
    picked = (next(c for c in every if (c.name, c.start.season) == w) for w in wanted)
    return load_changes.follow(plant, seasons, tuple(picked))


def at_rest(found: Followed, change: int) -> tuple[float, float]:
    """Outlet pressure [Pa] of the first appliance where the change ends, at rest on a cold and on a hot stack."""
    start = found.changes[change].start
    codes = np.repeat(np.array(start.after, float)[:, None], 2, axis=1)
    states = States(codes, np.full(2, start.season), np.array([1.0, 0.0]), np.zeros(2))
    return tuple(float(p) for p in solve(found.runs.plant, found.runs.seasons, states).outlet_pressure[0])


def filling(found: Followed, change: int) -> Quantity:
    """Time that the first appliance's gas takes to its terminal at the flow of the end: volumes over flows."""
    plant, time = found.runs.plant, 0.0
    for section in plant.path(plant.appliances[0].name):
        volume = float((np.pi / 4.0 * section.diameter**2 * section.length).m_as("m**3"))
        time += volume / float(found.runs.flow_out[plant.row(section.name), -1, change])
    return Q_(time, "s")


def seconds_table(found: Followed, system: str = "US") -> HTML:
    """The first appliance's outlet through each change: at rest afterwards, its range, and some seconds in."""
    rows, (time, outlet) = [], (found.runs.time, found.runs.outlet_pressure[0])
    for k, change in enumerate(found.changes):
        after = [float(np.interp(change.start.light_off + s, time, outlet[:, k])) for s in _SECONDS]
        numbers = (*at_rest(found, k), float(outlet[:, k].min()), float(outlet[:, k].max()), *after)
        told = (draft_text(p, system) for p in numbers)
        rows.append((found.describe(k), *told, show(filling(found, k), system)))
    header = ("at rest, cold", "at rest, hot", "lowest in time", "highest in time", *(f"after {s} s" for s in _SECONDS))
    return HTML(table(("change", *header, "gas fills the vent in"), rows))


_SECONDS = (10, 25, 55)  # after a light-off or call


def usual_changes() -> Followed:
    """All usual load changes of the hall, as its study followed them in time."""
    return hall_study().changes


def passages_table(system: str = "US") -> HTML:
    """Every outlet's lowest and highest pressure at rest, and in time through all usual load changes."""
    rows, followed = [], usual_changes()
    for p, e in zip(load_changes.passages(followed), hall_study().envelopes, strict=True):
        low, high = (
            f"{draft_text(pressure, system)}: {followed.describe(change)}"
            for pressure, change in ((p.low, p.low_change), (p.high, p.high_change))
        )
        rows.append((p.appliance, draft_text(e.low, system), low, draft_text(e.high, system), high))
    return HTML(table(("outlet", "lowest at rest", "in time", "highest at rest", "in time"), rows))


_LABEL_PADS = (-2.0, 4.0)  # points: left of the first axes there is less room than between the two


def first_seconds(found: Followed, system: str = "US") -> Figure:
    """Outlet pressure of the first appliance through both changes, beside what it is at rest afterwards."""
    figure, both = row_of_axes(2, 3.6)
    for k, (axes, title) in enumerate(zip(both, ("lit from idle", "turned down"), strict=True)):
        start, runs = found.changes[k].start, found.runs
        if start.light_off > 0.0:
            axes.axvspan(0.0, start.light_off, color=PALE, zorder=0, label="fan runs up, purge")
        pressure = np.where(found.codes[0, :, k] > 0.0, runs.outlet_pressure[0, :, k], np.nan)
        axes.plot(runs.time, number(pressure, "Pa", "draft", system), "-", color=INK, lw=1.8, label="in time")
        cold, hot = number(at_rest(found, k), "Pa", "draft", system)
        axes.axhline(cold, color=BLUE, ls="--", label="at rest, cold")
        axes.axhline(hot, color=RUST, ls="-.", label="at rest, hot")
        plain(axes, "time, s", axis("outlet", "draft", system), f"{title}, {runs.seasons[start.season].name}")
        axes.yaxis.labelpad = _LABEL_PADS[k]
        low, high = axes.get_ylim()
        axes.set_ylim(low, high + 0.5 * (high - low))
        legend(axes, loc="upper right")
    return figure


# --- A vent that remembers ------------------------------------------------------------------------------------


@cache
def hood() -> tuple[Plant, Season]:
    """A gas furnace under a draft hood on a masonry chimney of 20 ft, and a cool day; all invented."""
    level = FiringLevel("on", Q_(100, "MBH"), 0.4, Q_(450, "degF"))
    furnace = Appliance(
        "Furnace", fuel("natural gas"), "I", (level,), Q_(6, "inch"), Q_(5, "ft"), (Q_(-30, "Pa"), Q_(0, "Pa")),
        kind="draft hood",
    )  # fmt: skip
    pieces = (
        Section("connector", Q_(6, "ft"), Q_(2, "ft"), Q_(6, "inch"), material("single-wall galvanized connector"),
                "chimney", fittings=("elbow 90",)),
        Section("chimney", Q_(20, "ft"), Q_(20, "ft"), Q_(8, "inch"), material("tile-lined masonry chimney"), "top",
                place="outdoors", fittings=("elbow 90",)),
    )  # fmt: skip
    top = (Termination("top", "open end"),)
    plant = Plant("one hood", Q_(0, "ft"), Q_(1, "ft"), (furnace,), ("connector",), pieces, top)
    return plant, Season("a cool day", Q_(40, "degF"), Q_(68, "degF"))


@dataclass(frozen=True)
class Memory:
    """What a hood draws [kg/s] at rest over ``pressure`` [Pa] of the room: all roots (place, flow, stable).

    ``drafting`` and ``turned`` (pressures): the stable root that draws the most, and the one that spills the most; NaN
    where there is none that does.
    """

    pressure: np.ndarray
    place: np.ndarray
    flow: np.ndarray
    stable: np.ndarray

    def _end(self, upper: bool) -> np.ndarray:
        found, most = np.full(self.pressure.size, np.nan), np.fmax if upper else np.fmin
        some = self.stable & ((self.flow > 0.0) == upper)
        most.at(found, self.place[some], self.flow[some])
        return found

    @property
    def drafting(self) -> np.ndarray:
        return self._end(True)

    @property
    def turned(self) -> np.ndarray:
        return self._end(False)

    @property
    def turns_over(self) -> float:
        """Room pressure [Pa] below which no vent draws any more."""
        return float(self.pressure[np.isfinite(self.drafting)].min())

    @property
    def comes_back(self) -> float:
        """Room pressure [Pa] above which no vent stays turned over."""
        return float(self.pressure[np.isfinite(self.turned)].max())


@cache
def memory(lit: bool, step: float = 0.5) -> Memory:
    """Every root of the hood over the room's pressure, from -45 Pa to 0 in steps [Pa], lit and hot or idle and cold."""
    plant, season = hood()
    pressure = np.arange(-45.0, step / 2.0, step)
    seasons = tuple(replace(season, name=f"{p:g} Pa", room_pressure=Q_(float(p), "Pa")) for p in pressure)
    count = pressure.size
    codes = np.full((1, count), 1.0 if lit else 0.0)
    states = States(codes, np.arange(count), np.full(count, 0.0 if lit else 1.0), np.zeros(count))
    found = root_census.census(network.compile_network(plant, seasons), states)
    return Memory(pressure, found.state, found.drawn, found.stable)


def folds(system: str = "US") -> str:
    """The room pressures at which the hood's vent turns over and comes back, idle and lit."""
    lines = []
    for lit, name in ((False, "burner off, walls cold"), (True, "burner on, walls hot")):
        found = memory(lit)
        over, back = draft_text(found.turns_over, system), draft_text(found.comes_back, system)
        lines.append(f"{name}: turns over below {over}, comes back above {back}")
    return "\n".join(lines)


def memory_figure(system: str = "US") -> Figure:
    """What the hood draws over the room's pressure, lit and idle; hollow: a root that bears no disturbance."""
    figure, both = row_of_axes(2, 3.6)
    for axes, lit in zip(both, (True, False), strict=True):
        found = memory(lit)
        room, flow = number(found.pressure, "Pa", "draft", system), number(found.flow, "kg/s", "mass flow", system)
        for branch, color, words in ((found.drafting, BLUE, "draws"), (found.turned, RUST, "spills")):
            axes.plot(room, number(branch, "kg/s", "mass flow", system), "-", color=color, lw=2.2, label=words)
        loose = ~found.stable
        axes.plot(room[found.place[loose]], flow[loose], "o", ms=3, mfc="none", mec=GREY, label="not stable")
        axes.axhline(0.0, color=INK, lw=0.8)
        axes.axvline(number(found.turns_over, "Pa", "draft", system), color=INK, ls=":", lw=1.2)
        title = "burner on, walls hot" if lit else "burner off, walls cold"
        plain(axes, axis("room", "draft", system), axis("through the hood", "mass flow", system), title)
    for axes, pad in zip(both, _LABEL_PADS, strict=True):
        axes.yaxis.labelpad = pad
    legend(both[1], loc="center left")
    return figure


# --- Checks ---------------------------------------------------------------------------------------------------

_EIGHT = Q_(np.arange(0.0, 360.0, 45.0), "degree")


def wind_checked() -> tuple[Check, ...]:
    """Our wind beside every row of ``data/flow/wind_checks.csv``."""
    ours = {"WP001": float(wind.wind_at_height(Q_(10.0, "m/s"), Q_(15.0, "m"), "suburb").m_as("m/s"))}
    for place, (shielding, pitch) in enumerate(product(wind.SHIELDINGS, wind.PITCHES), start=2):
        ours[f"WP{place:03d}"] = float(wind.roof_coefficient(_EIGHT, pitch, shielding).m.mean())
    head = Q_(0.5 * 1.23 * 8.0**2, "Pa")
    ours["WP011"] = wind.terminal_coefficient(Q_(45.0, "degree")) * head
    return compare("wind_checks", ours | {"WP012": wind.outlet_pressure(), "WP013": wind.outlet_pressure(coast=True)})


def folds_checked() -> tuple[Check, ...]:
    """The room pressures at which the invented furnace's chimney turns, beside the published figures of size."""
    return compare("spillage_checks", {"SP021": -memory(False).turns_over, "SP022": -memory(True).turns_over})


def transient_checked() -> tuple[Check, ...]:
    """Runs that warm up, and a column that starts, beside every row of ``data/vent/transient_checks.csv``."""
    ours, rows = {}, tables.read("transient_checks")
    for one, other in zip(rows[0:24:2], rows[1:24:2], strict=True):
        ours[one["id"]], ours[other["id"]] = warmed(float(one["y"]), float(one["z"]))
    times = column_started((0.5, 0.9))
    return compare("transient_checks", ours | dict(zip(("TR025", "TR026"), times, strict=True)))


def warmed(y: float, z: float) -> tuple[float, float]:
    """Gas and wall at the end of a run that hot gas has entered, as shares of the step, by `warm_up.warm_up`.

    ``y`` is film times surface over m cp of the stream, ``z`` film times surface and time over the wall's heat. Its
    error falls with the square of the slices, so two runs tell where it ends.
    """
    (gas, wall), (finer_gas, finer_wall) = (_warmed(y, z, slices) for slices in (40, 80))
    return (4.0 * finer_gas - gas) / 3.0, (4.0 * finer_wall - wall) / 3.0


def _warmed(y: float, z: float, slices: int) -> tuple[float, float]:
    """By a wall with next to no resistance, and next to no way for heat out of it."""
    film, bore, length, thick, stored = 10.0, 1.0, 10.0, 1e-3, 1e6  # stored: J/(m3 K)
    steel = Layer("wall", Q_(thick, "m"), Q_(1e6, "W/(m*K)"), Q_(1e3, "kg/m**3"), Q_(1e3, "J/(kg*K)"))
    wall = np.pi * (bore + thick) * thick * stored * length
    surface = np.pi * bore * length
    duration, stream = z * wall / (film * surface), film * surface / y
    found = warm_up.warm_up.bare(
        duration, 301.0, 300.0, 300.0, stream / 1000.0, 1000.0, film, 1e-9, bore, length, (steel,), slices, 1
    )
    last, before = found.wall[-1, -1], found.wall[-1, -2]  # means of the last two slices
    return float(found.gas[-1, -1]) - 300.0, float(1.5 * last - 0.5 * before) - 300.0


def column_started(shares: tuple[float, ...], drive: float = 30.0) -> tuple[float, ...]:
    """Times to ``shares`` of the steady speed when a ``drive`` [Pa] is put on a column of air, over L vs rho / drive.

    The error of a run is as its step, so two runs tell where it ends.
    """
    one, other = (_column(shares, drive, step) for step in (0.02, 0.01))
    return tuple(float(t) for t in 2.0 * other - one)


def _column(shares: tuple[float, ...], drive: float, step: float) -> np.ndarray:
    air = Season("still", Q_(10, "degC"), Q_(10, "degC"))
    furnace, _ = hood()
    # Wide and full of elbows: all but nothing is lost by friction, whose factor changes with the flow.
    pipe = Section("pipe", Q_(40, "m"), Q_(0, "m"), Q_(2, "m"), material("insulated chimney"), "end",
                   fittings=("elbow 90",) * 40)  # fmt: skip
    idle = replace(furnace.appliances[0], outlet_diameter=Q_(2, "m"))
    plant = Plant("a column", Q_(0, "m"), Q_(1, "m"), (idle,), ("pipe",), (pipe,), (Termination("end", "open end"),))
    knots = Course(np.array([0.0, 30.0]), np.zeros((1, 2, 1)), np.zeros(1, int), np.zeros((2, 1)))
    method = time_step.Method(step=step, films=1, adiabatic=True)
    found = transient.run(plant, (air,), knots, np.full((1, 1), drive), step, method)
    flow = found.flow_out[0, :, 0]
    unit = 40.0 * flow[-1] / (np.pi / 4.0 * 2.0**2) * found.density_out[0, -1, 0] / drive
    return np.interp(np.array(shares) * flow[-1], flow, found.time) / unit


# --- Live controls ------------------------------------------------------------------------------------------

_ANY = "any"  # not None, which a list of choices takes for no choice at all


def explorer(system: str, scan: Scan) -> Panel:
    """Controls that narrow a scan to some of its states, and every outlet's range over what is left."""
    return Panel(partial(explorer_answer, system, scan), controls(scan))


def hall_explorer(system: str = "US") -> Panel:
    """The controls of the swimming hall's scan; at first narrowed to calm January days on a hot stack."""
    scan = hall_study().scan
    found = controls(scan)
    for name, value in {"season": 0, "cold": False, "windy": 0}.items():
        found[name].value = value
    return Panel(partial(explorer_answer, system, scan), found)


def controls(scan: Scan) -> dict[str, widgets.Widget]:
    """The explorer's controls by name; at first nothing is narrowed."""
    choices: dict[str, tuple[str, list]] = {
        "season": ("Season", [("any", _ANY), *((s.name, i) for i, s in enumerate(scan.seasons))]),
        "cold": ("Stack", [("hot or cold", _ANY), ("hot", False), ("cold", True)]),
        "windy": ("Wind", [("any", _ANY), ("calm", 0), *((wind.CASES[c], c) for c in (1, 2))]),
    }
    for a in scan.plant.appliances:
        choices[DOES + a.name] = (a.name, [("anything", _ANY), *((name, code) for code, name in enumerate(a.states))])
    return {name: choice(words, options, _ANY) for name, (words, options) in choices.items()}


def explorer_answer(
    system: str, scan: Scan, *, season: int | str, cold: bool | str, windy: int | str, **doing: int | str
) -> tuple[str, bytes]:
    """Every outlet's range over the states that fit; "any" stands for whatever there is."""
    fits = _fitting(scan, season, cold, windy, doing)
    found = [_over(scan, i, fits, system) for i in range(len(scan.plant.appliances))]
    outlets = [outlet for outlet, _ in found if outlet]
    count = paragraph(f"{scan.count(fits):,} of {len(scan.conditions):,} states.{_twice(scan, fits)}")
    numbers = count + table(("outlet", "lowest", "highest", "swing", "verdict"), [row for _, row in found])
    return numbers, picture(outlets_drawing(outlets, system)) if outlets else no_picture()


def _fitting(scan: Scan, season, cold, windy, doing) -> np.ndarray:
    """Which states of the scan fit; ValueError where none does."""
    states = scan.states
    blows = states.windy if states.wind_case is None else states.wind_case
    wanted = [(season, states.season), (cold, states.cold), (windy, blows)]
    wanted += [(doing[DOES + a.name], states.codes[i]) for i, a in enumerate(scan.plant.appliances)]
    fits = np.ones(len(states), bool)
    for value, values in wanted:
        if value != _ANY:
            fits &= values == value
    if not fits.any():
        raise ValueError("no state of the scan fits all of this")
    return fits


def _twice(scan: Scan, fits: np.ndarray) -> str:
    """How many of the states that fit come to rest in more than one way."""
    several = int((np.bincount(scan.condition[fits]) > 1).sum())
    return f" In {several:,} of them it depends on what was before how the vent comes to rest." if several else ""


def _over(scan: Scan, i: int, fits: np.ndarray, system: str) -> tuple[Outlet | None, tuple[str, ...]]:
    """One outlet over the states that fit, and its row; no outlet where its appliance runs in none of them."""
    a, counted, into_room = scan.plant.appliances[i], np.flatnonzero(fits & scan.running(i)), _into_room(scan, i, fits)
    if counted.size == 0:
        idle = f"{show(Q_(into_room, 'kg/s'), system)} of flue gas into the room" if into_room else "idle"
        return None, (a.name, "", "", "", idle)
    pressure = scan.solution.outlet_pressure[i, counted]
    window = tuple(float(w.m_as("Pa")) for w in a.window)
    outlet = Outlet(a.name, "", float(pressure.min()), float(pressure.max()), window, True, into_room)
    ends = ((outlet.low, worst(-pressure, SAME_PRESSURE)), (outlet.high, worst(pressure, SAME_PRESSURE)))
    low, high = (f"{draft_text(p, system)}: {scan.describe(int(counted[at]), system)}" for p, at in ends)
    return outlet, (a.name, low, high, draft_text(outlet.high - outlet.low, system), outlet.words(system))


def _into_room(scan: Scan, i: int, fits: np.ndarray) -> float:
    """Most flue gas [kg/s] that enters the room through an appliance in the states that fit, 0 where none does."""
    return float(np.where(fits, flue_gas_in_room(scan)[0][i], 0.0).max())


# --- Prediction, and what is to be written ------------------------------------------------------------------


def prediction(system: str = "US") -> Prediction:
    """How wide the reader takes the swing to be, beside the window."""
    return predict("firing_states", swing_of_the_first, system)


def swing_of_the_first() -> dict[str, Quantity | float | str]:
    """The first boiler's swing over all states beside the width of its window."""
    first = hall_study().envelopes[0]
    window = first.window[1] - first.window[0]
    times = first.swing / window
    return {
        "right": 0 if times <= 1.0 else 1 if times <= 2.0 else 2,
        "figure": Q_(first.swing, "Pa"),
        "window": Q_(window, "Pa"),
        "times": times,
        "low": Q_(first.low, "Pa"),
        "high": Q_(first.high, "Pa"),
    }


def writing(system: str = "US") -> Writing:
    """What wind does to an outlet, to be written by the reader."""
    return load_writing("firing_states", moved_by_wind, system)


def moved_by_wind(terminal: float, room: float, density: Quantity, speed: Quantity) -> dict[str, Quantity]:
    """By how much wind moves an outlet's pressure against its room, and by the slips that are made with it."""
    head = friction.velocity_head(density, speed).to("Pa")
    answer = (terminal - room) * head
    return {
        "answer": answer,
        "terminal_alone": terminal * head,
        "room_added": (terminal + room) * head,
        "sign": -answer,
        "not_halved": 2.0 * answer,
    }


# --- Questions ----------------------------------------------------------------------------------------------


def questions(system: str = "US", seed: int | None = None) -> tuple[Exercise, ...]:
    """Questions of the chapter, with its own figures or those that ``seed`` draws."""
    return load("firing_states", (how_many_states, swing, through_an_idle_boiler, what_a_sample_finds), system, seed)


def how_many_states(boilers: int, each: int, seasons: int) -> dict[str, Quantity | str | int]:
    """States of boilers free of one another, in every season, on a hot or cold stack, in wind or none."""
    weather = seasons * 2 * 2
    counts = {
        "answer": each**boilers * weather,
        "added": each * boilers * weather,
        "on_or_off": 2**boilers * weather,
        "boilers_alone": each**boilers,
        "alike": (each + boilers - 1) * weather,
    }
    told = {"states": each**boilers * weather, "product": " x ".join([str(each)] * boilers)}
    return {name: Q_(float(count), "") for name, count in counts.items()} | told


def swing(low: Quantity, high: Quantity, edge: Quantity) -> dict[str, Quantity]:
    """Highest less lowest."""
    return {
        "answer": high - low,
        "signs_lost": high + low,
        "window": 2 * edge,
        "above": high - edge,
        "below": -edge - low,
    }


def through_an_idle_boiler(leak: Quantity, at: Quantity, now: Quantity) -> dict[str, Quantity | float]:
    """Flow through a leak at another pressure."""
    times = float((now / at).m_as(""))
    return {
        "answer": leak * times**0.5,
        "in_proportion": leak * times,
        "as_rated": leak,
        "times": times,
        "root": times**0.5,
    }


def what_a_sample_finds(possible: int, bad: int, sampled: int) -> dict[str, Quantity | float | int]:
    """Chance that a bad state is among those drawn at random."""
    missed = (1.0 - bad / possible) ** sampled
    return {
        "answer": Q_(1.0 - missed, "").to("percent"),
        "one_state": Q_(sampled / possible, ""),
        "all_missed": Q_(missed, ""),
        "mean": Q_(sampled * bad / possible, ""),
        "a_hundredth": Q_(1.0 - missed, "percent"),
        "percent": 100.0 * (1.0 - missed),
        "one_in": round(1.0 / missed),
    }
