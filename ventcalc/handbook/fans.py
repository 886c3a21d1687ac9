"""Fans: the swimming hall's duties, the chapter's figures, live controls, checks and questions."""

from dataclasses import dataclass, replace
from functools import cache, partial

import numpy as np
from IPython.display import HTML
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ventcalc.checked import Check, compare
from ventcalc.draft import fan_curve, fan_laws, fan_limits, fan_selection, fan_table, operating_point
from ventcalc.draft.fan_curve import Fan
from ventcalc.draft.fan_selection import Candidate
from ventcalc.draft.held_pressure import HEADER, Control, Device, Held, Ideal, before_termination, hold
from ventcalc.gas import atmosphere, flue_gas
from ventcalc.gas.atmosphere import STANDARD_AIR
from ventcalc.job import job_file
from ventcalc.show.axes import axis, legend, number, picture, plain, row_of_axes
from ventcalc.show.exercises import Exercise
from ventcalc.show.panels import Panel, choice, slider, steps, table
from ventcalc.show.plots import BLUE, GREY, INK, RUST, SIZE
from ventcalc.show.prediction import Prediction
from ventcalc.show.prediction import load as predict
from ventcalc.show.questions import load
from ventcalc.show.writing import Writing
from ventcalc.show.writing import load as load_writing
from ventcalc.units import Q_, Quantity, show
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import Season
from ventcalc.vent.states import States
from ventcalc.words import told

# --- What the chapter stands on -----------------------------------------------------------------------------------


def checks() -> tuple[Check, ...]:
    """Standard air, a text's end problem, the fan laws, and density factors: every row of the table."""
    cooler = Q_(20.0, "degC").m_as("K") / Q_(40.0, "degC").m_as("K")
    warm = fan_laws.by_the_laws(Q_(2.4, "m**3/s"), Q_(340.0, "Pa"), Q_(1.8, "kW"), 1.0, cooler)
    ours = {
        "F001": STANDARD_AIR,
        "F002": STANDARD_AIR,
        "F003": warm[2],
        "F004": warm[0],
        "F005": warm[1],
    }
    for first, speed in ((6, 0.8), (9, 1.1), (12, 1.2)):
        ratios = fan_laws.by_the_laws(Q_(1.0, "m**3/s"), Q_(1.0, "Pa"), Q_(1.0, "W"), speed)
        ours |= {f"F{first + k:03}": float(ratio.m) for k, ratio in enumerate(ratios)}
    ours["F015"] = Q_(ours["F011"] - 1.0, "")
    return compare("fans_checks", ours | density_factors())


def density_factors() -> dict[str, Quantity]:
    """Rows F016 to F020: density over that of air at 70 °F and sea level; the first over our standard air itself."""
    cases = {"F016": (70, 0), "F017": (300, 0), "F018": (500, 0), "F019": (70, 5000), "F020": (300, 5000)}
    factors = {
        key: fan_laws.density_factor(Q_(float(degrees), "degF"), Q_(float(feet), "ft"))
        for key, (degrees, feet) in cases.items()
    }
    return {key: factor if key == "F016" else factor / factors["F016"] for key, factor in factors.items()}


# --- The swimming hall with a fan on its roof -----------------------------------------------------------------------


@cache
def hall() -> job_file.Job:
    """The demo job of the swimming hall, its cap taken off: a roof fan stands in its place."""
    drawn = job_file.demonstration("swim_hall")
    open_ = tuple(replace(t, cap="open end") for t in drawn.plant.terminations)
    return replace(drawn, plant=replace(drawn.plant, terminations=open_))


@dataclass(frozen=True, eq=False)
class Duties:
    """What a fan at the top must do so that the header stands at its set point; arrays (states,), plain SI.

    ``flow`` [m3/s], fan static ``pressure`` [Pa], ``density`` [kg/m3] and ``temperature`` [K] at the fan, in the states
    ``which`` of those asked for, all in which anything runs. ``area`` [m2] of the section; ``cold_density`` [kg/m3] of
    the air of the coldest season.
    """

    which: np.ndarray
    flow: np.ndarray
    pressure: np.ndarray
    density: np.ndarray
    temperature: np.ndarray
    area: float
    cold_density: float

    @property
    def asked(self) -> dict[str, Quantity]:
        """The same as arguments of `fan_selection.select`."""
        return {
            "flow": Q_(self.flow, "m**3/s"),
            "pressure": Q_(self.pressure, "Pa"),
            "density": Q_(self.density, "kg/m**3"),
            "temperature": Q_(self.temperature, "K"),
            "cold_density": Q_(self.cold_density, "kg/m**3"),
            "area": Q_(self.area, "m**2"),
        }


def duties(plant: Plant, seasons: tuple[Season, ...], states: States, set_point: Quantity) -> Duties:
    """The duties of a roof fan in these states: what an ideal device would add, less the velocity head blown away."""
    top = before_termination(plant)
    held = hold(plant, seasons, states, (Control(top, Ideal(), HEADER, set_point),))
    which = np.flatnonzero(held.acts[0])
    area = plant.section(top).area
    flow, density = np.maximum(held.flow[0, which], 0.0), held.density[0, which]
    coldest = min((s.outdoor for s in seasons), key=lambda t: t.m_as("K"))
    pressure = atmosphere.standard_pressure(plant.altitude)
    return Duties(
        which=which,
        flow=flow,
        pressure=held.added[0, which] - 0.5 * density * (flow / area) ** 2,
        density=density,
        temperature=held.solution.downstream[held.solution.row(top), which],
        area=area,
        cold_density=float(atmosphere.air_density(coldest, pressure).m_as("kg/m**3")),
    )


def ramp(plant: Plant, season: int, cold: bool = False, steps: int = 13) -> States:
    """All appliances together from their lowest to their highest level, without wind."""
    codes = np.array([np.linspace(len(a.states) - len(a.levels), len(a.states) - 1.0, steps) for a in plant.appliances])
    return States(codes, np.full(steps, season), np.full(steps, cold), np.zeros(steps, bool))


def all_at(plant: Plant, level: int, season: int, cold: bool = False) -> States:
    """One state: all appliances at a level, counted from the highest, -1."""
    codes = np.array([[len(a.states) + level] for a in plant.appliances])
    return States(codes, np.array([season]), np.array([cold]), np.zeros(1, bool))


def held_by(a: job_file.Job, states: States, device: Device) -> Held:
    """The job in these states with a device at its top that holds its set point as well as it can."""
    control = Control(before_termination(a.plant), device, HEADER, a.set_point)
    return hold(a.plant, a.seasons, states, (control,))


# --- Tables -----------------------------------------------------------------------------------------------------------


def without_fan(system: str = "US") -> HTML:
    """The header's pressure at full fire in every season, on a hot and a cold stack, without a fan."""
    rows, own = [], hall()
    for i, season in enumerate(own.seasons):
        for cold, stack in ((False, "hot"), (True, "cold")):
            held = held_by(own, all_at(own.plant, -1, i, cold), Ideal(0.0, 0.0))
            header = own.set_point + Q_(float(held.error[0, 0]), "Pa")
            rows.append((season.name, show(season.outdoor, system), stack, show(header, system)))
    return HTML(table(("all at high, no fan", "outdoors", "stack", "header"), rows))


def duty_table(fan: Fan, lines: dict[str, Duties], system: str = "US") -> HTML:
    """What the vent asks at low and at high fire, and the speed at which the fan does it."""
    rows = []
    for name, d in lines.items():
        for at, words in ((0, "low"), (-1, "high")):
            needed = float(fan_curve.speed_for.bare(fan, d.flow[at], d.pressure[at], d.density[at]))
            values = (d.flow[at], "m**3/s"), (d.pressure[at], "Pa"), (d.density[at], "kg/m**3")
            said = f"{needed:.0%}" if needed else "none: even stopped it is too much"
            rows.append((f"{name}, all at {words}", *(show(Q_(float(v), unit), system) for v, unit in values), said))
    return HTML(table(("state", "flow", "static pressure", "density", "speed needed"), rows))


NEAR = Q_(1.0, "Pa")  # of its set point: the header is called held


def held_table(fans: dict[str, Held], system: str = "US") -> HTML:
    """How far the header strays from its set point with each fan, over all states in which anything runs."""
    rows = []
    for name, held in fans.items():
        error = held.error[0][held.acts[0]]
        ends = (show(Q_(float(end), "Pa"), system, "draft") for end in (error.min(), error.max()))
        rows.append((name, *ends, f"{(np.abs(error) < NEAR.m_as('Pa')).mean():.0%}"))
    near = f"states held within {show(NEAR, system, 'draft')}"
    return HTML(table(("fan", "farthest below the set point", "farthest above", near), rows))


def motor_table(fan: Fan, speeds: dict[str, float], hot: Quantity, cold: Quantity, system: str = "US") -> HTML:
    """The most that a fan takes at each speed in gas and in cold air, and whether its motor carries that."""
    motor, rows = float(fan.motor_power.m_as("W")), []
    for name, speed in speeds.items():
        shares = np.linspace(0.0, 1.0, 99)
        worst = [float(np.max(fan_curve.shaft_power.bare(fan, shares, speed, d.m_as("kg/m**3")))) for d in (hot, cold)]
        carried = "carries it" if worst[1] <= motor else "does not carry it"
        powers = (fan_selection.power_text(p, system) for p in worst)
        rows.append((f"{name}, {speed:.0%} of rated", *powers, carried))
    header = ("speed", f"at most, in {show(hot, system)}", f"in cold air, {show(cold, system)}")
    return HTML(table((*header, f"motor of {fan_selection.power_text(motor, system)}"), rows))


def together_table(fan: Fan, speed: float, density: Quantity, resistance: Quantity, system: str = "US") -> HTML:
    """One fan and two on a vent without draft, at one speed."""
    rows = []
    for name, combine in _TOGETHER.items():
        both = combine(fan)
        flow, made = operating_point.operating_point(both, speed, density, Q_(0.0, "Pa"), resistance)
        watts = float(fan_curve.shaft_power(both, flow, speed, density).m_as("W"))
        rows.append((name, show(flow, system), show(made, system), fan_selection.power_text(watts, system)))
    return HTML(table(("fans at the same speed", "flow", "static pressure", "power"), rows))


def selection_table(chosen: fan_selection.Selection, system: str = "US") -> HTML:
    """Every fan with what is said for and against it, best first, the rejected last with what rules them out."""
    rows = []
    for c in (*chosen.fitting, *chosen.rejected):
        name = c.fan.name.replace(" ", "\N{NO-BREAK SPACE}")
        against = " ".join(told(c.cautions if c.fits else c.faults, system))
        rows.append((name, "fits" if c.fits else "rejected", " ".join(told(c.merits, system)), against))
    return HTML(table(("fan", "verdict", "for it", "against it"), rows))


# --- Figures --------------------------------------------------------------------------------------------------------

_STYLES = ("-", "--", "-.", ":")
_MARKS = ("o", "s", "^", "D")


def curve_figure(fan: Fan, system: str = "US", height: float = 3.2) -> Figure:
    """Static pressure and shaft power against flow at the speeds of the fan's table; its points on them."""
    figure, (left, right) = row_of_axes(2, height)
    density = fan.curve_density
    for speed, style, mark in zip(sorted({p.speed for p in fan.points}, reverse=True), _STYLES, _MARKS, strict=False):
        flow = np.linspace(0.0, fan.free_flow * speed, 60)
        points = [p for p in fan.points if p.speed == speed]
        at, measured = _flow([p.flow for p in points], system), _pressure([p.pressure for p in points], system)
        pressure, watts = (
            f.bare(fan, flow, speed, density) for f in (fan_curve.static_pressure, fan_curve.shaft_power)
        )
        left.plot(_flow(flow, system), _pressure(pressure, system), style, color=BLUE, lw=1.6)
        left.plot(at, measured, mark, color=INK, ms=4.5)
        named = {"label": fan.revolutions(speed)}
        right.plot(_flow(flow, system), _power(watts, system), style, color=RUST, lw=1.6, **named)
        right.plot(at, _power([p.power for p in points], system), mark, color=INK, ms=4.5)
    plain(left, axis("flow", "volume flow", system), axis("static pressure", "draft", system))
    plain(right, axis("flow", "volume flow", system), f"shaft power, {'hp' if system == 'US' else 'W'}")
    left.set_ylim(bottom=0.0)
    right.set_ylim(0.0, 1.5 * right.get_ylim()[1])  # room for the legend
    legend(right, loc="upper left")
    return figure


def _flow(flow, system: str):
    return number(flow, "m**3/s", "volume flow", system)


def _pressure(pressure, system: str):
    return number(pressure, "Pa", "draft", system)


def _power(watts, system: str):
    return Q_(np.asarray(watts), "W").m_as("horsepower" if system == "US" else "W")


def duty_figure(fan: Fan, every: Duties, lines: dict[str, Duties], system: str = "US", height: float = 4.2) -> Figure:
    """Every state's duty as a dot, lines through some, and the fan's curves at the mean density of the lines.

    The curves are named at their lower end by the speed, in per cent of the rated one. An open end without a fan stands
    at minus its velocity head.
    """
    figure, (axes,) = row_of_axes(1, height)
    density = float(np.mean([np.mean(d.density) for d in lines.values()]))
    dots = {"color": GREY, "ms": 4, "alpha": 0.5, "label": "every state"}
    axes.plot(_flow(every.flow, system), _pressure(every.pressure, system), ".", **dots)
    for (name, d), style, mark in zip(lines.items(), _STYLES, _MARKS, strict=False):
        look = {"color": RUST, "lw": 1.8, "marker": mark, "ms": 5, "markevery": 4, "label": name}
        axes.plot(_flow(d.flow, system), _pressure(d.pressure, system), style, **look)
    most, lowest = 1.12 * every.flow.max(), 1.15 * every.pressure.min()
    flow = np.linspace(0.0, most, 60)
    _line(axes, flow, -0.5 * density * (flow / every.area) ** 2, system, "--", INK, "open end, no fan", 1.2)
    for speed in (0.9, 0.7, 0.5, fan.least_speed, 0.0):
        flow = np.linspace(0.0, most, 400)
        pressure = fan_curve.static_pressure.bare(fan, flow, speed, density)
        x, y = _flow(flow[pressure >= lowest], system), _pressure(pressure[pressure >= lowest], system)
        axes.plot(x, y, color=BLUE, lw=1.2)
        words, side = (f"{speed:.0%}", "center") if speed else ("stopped", "right")
        look = {"textcoords": "offset points", "color": BLUE, "size": SIZE, "ha": side, "va": "top"}
        axes.annotate(words, (x[-1], y[-1]), (0, -2), **look)
    axes.axhline(0.0, color=INK, lw=0.8)
    plain(axes, axis("flow at the fan", "volume flow", system), axis("static pressure", "draft", system))
    ends = _pressure([1.3 * lowest, 1.1 * fan.rated[0].pressure], system)
    axes.set(xlim=(0.0, 1.02 * _flow(most, system)), ylim=tuple(ends))
    legend(axes, loc="upper right", ncols=2)
    return figure


def speed_figure(candidates: tuple[Candidate, ...], height: float = 3.0) -> Figure:
    """The speed that each of the first four fans needs, over all states in rising order; thin: its least."""
    figure, (axes,) = row_of_axes(1, height)
    for c, style, color in zip(candidates, _STYLES, (INK, BLUE, RUST, GREY), strict=False):
        speed = np.sort(c.needed[~np.isnan(c.needed)])
        share = 100.0 * (np.arange(speed.size) + 0.5) / c.needed.size
        axes.plot(share, 100.0 * speed, style, color=color, lw=1.8, label=c.fan.name)
        axes.axhline(100.0 * c.fan.least_speed, ls=style, color=color, lw=0.7)
    plain(axes, "share of all states, %", "speed needed, % of rated")
    axes.set(xlim=(0.0, 100.5), ylim=(0.0, None))
    legend(axes, loc="upper left", title="thin: least steady speed", title_fontsize=SIZE)
    return figure


# --- Live controls --------------------------------------------------------------------------------------------------

_TOGETHER = {"one": lambda fan: fan, "two in parallel": fan_curve.in_parallel, "two in series": fan_curve.in_series}
_COLD = Q_(-4.0, "degF")  # the swimming hall's design winter
_REFERENCE_FLOW = Q_(1000.0, "cfm")  # at which the vent's resistance is told


def controls(system: str = "US") -> dict:
    """The controls of `explorer` by name; plain SI."""
    drafts = [float(Q_(0.01 * k, "inH2O").m_as("Pa")) if system == "US" else 2.5 * k for k in range(21)]
    unit, feet = ("ft", range(0, 10001, 500)) if system == "US" else ("m", range(0, 3001, 150))
    degrees = steps("temperature", system, range(60, 561, 20), range(20, 291, 10))
    return {
        "fan": choice("Fan", fan_table.names(), "roof 12"),
        "together": choice("How many", list(_TOGETHER), "one"),
        "speed": slider("Speed", [(f"{n} %", n / 100.0) for n in range(0, 106, 5)], 0.9),
        "temperature": slider("Gas", degrees, 333.0),
        "altitude": slider("Altitude", [(f"{z} {unit}", float(Q_(float(z), unit).m_as("m"))) for z in feet], 198.0),
        "loss": slider("Vent loss", [(_short(p, system), float(p)) for p in np.geomspace(4.0, 400.0, 21)], 25.0),
        "draft": slider("Natural draft", [(_short(p, system), p) for p in drafts], 0.0),
    }


def _short(pressure: float, system: str) -> str:
    """A pressure [Pa] in as few digits as fit beside a slider."""
    return f"{Q_(pressure, 'Pa').m_as('inH2O'):.2f} in. w.c." if system == "US" else f"{pressure:.1f} Pa"


def explorer(system: str = "US") -> Panel:
    """One fan, or two, on a vent: size, speed, gas, altitude, resistance and draft of the vent."""
    return Panel(partial(explorer_answer, system), controls(system))


def explorer_answer(
    system: str,
    *,
    fan: str,
    together: str,
    speed: float,
    temperature: float,
    altitude: float,
    loss: float,
    draft: float,
) -> tuple[str, bytes]:
    """Operating point, power, limits and picture; ``speed`` over rated, K, m, ``loss`` [Pa] that the vent takes at
    1,000 cfm of standard air, ``draft`` [Pa]."""
    both = _TOGETHER[together](fan_table.fan(fan))
    pressure = atmosphere.standard_pressure.bare(altitude)
    density = float(flue_gas.density.bare(flue_gas.Gas.dry_air(), temperature, pressure))
    cold = float(atmosphere.air_density.bare(_COLD.m_as("K"), pressure))
    standard = float(STANDARD_AIR.m_as("kg/m**3"))
    resistance = loss / float(_REFERENCE_FLOW.m_as("m**3/s")) ** 2 * density / standard
    flow, made = (float(v) for v in operating_point.operating_point.bare(both, speed, density, -draft, resistance))
    power = float(fan_curve.shaft_power.bare(both, flow, speed, density))
    look_up = fan_laws.to_standard_air(Q_(made, "Pa"), Q_(density, "kg/m**3"))
    rows = [
        ("flow", show(Q_(flow, "m**3/s"), system)),
        ("fan static pressure", show(Q_(made, "Pa"), system)),
        ("the same in standard air, for the fan's table", show(look_up, system)),
        ("density of the gas", show(Q_(density, "kg/m**3"), system)),
        ("shaft power", fan_selection.power_text(power, system)),
        (
            f"shaft power at that speed in air of {show(_COLD, system)}",
            fan_selection.power_text(power * cold / density, system),
        ),
        ("velocity in the outlet", show(fan_curve.discharge_velocity(both, Q_(flow, "m**3/s")), system)),
    ]  # fmt: skip
    if speed > 0.0 and made > 0.0 and flow > 0.0:
        rows.insert(5, ("static efficiency", f"{float(fan_curve.efficiency.bare(both, flow, speed)):.0%}"))
    warned = _warnings(both, flow, speed, temperature, power * cold / density, system)
    figure = point_figure(both, speed, density, draft, resistance, flow, system)
    return table(("", ""), rows) + "".join(f"<p><b>{words}</b></p>" for words in warned), picture(figure)


def _warnings(fan: Fan, flow: float, speed: float, temperature: float, cold_power: float, system: str) -> list[str]:
    found = []
    motor = float(fan.motor_power.m_as("W")) * fan.abreast * fan.stages
    if fan_limits.stalled.bare(fan, flow, speed):
        found.append("Left of the stall limit: the flow breaks away from the blades and the pressure wavers.")
    if fan_limits.too_slow.bare(fan, speed):
        found.append(f"Below the least steady speed, {fan.least_speed:.0%}.")
    if temperature > fan.highest_temperature.m_as("K"):
        found.append(f"Hotter than this fan may run: {show(fan.highest_temperature, system)}.")
    if cold_power > motor:
        found.append(f"In cold air too much for the motor, {fan_selection.power_text(motor, system)}.")
    if float(fan_curve.discharge_velocity.bare(fan, flow)) > fan_selection.HEARD:
        found.append("So fast a discharge is usually heard nearby (common practice, no source).")
    return found


def point_figure(
    fan: Fan,
    speed: float,
    density: float,
    draft: float,
    resistance: float,
    flow: float,
    system: str,
    height: float = 3.3,
) -> Figure:
    """Fan and vent, their crossing, the curve at rated speed in standard air, the stall limit."""
    figure, (axes,) = row_of_axes(1, height)
    most = 1.15 * max(flow, fan.abreast * fan.free_flow)
    at = np.linspace(0.0, most, 120)
    rated = fan_curve.static_pressure.bare(fan, at, 1.0, fan.curve_density)
    made = fan_curve.static_pressure.bare(fan, at, speed, density)
    top = 1.15 * max(rated.max(), made.max())
    _line(axes, at, rated, system, ":", GREY, "rated speed, standard air")
    _line(axes, at, made, system, "-", BLUE, f"fan at {speed:.0%}, this gas")
    _line(axes, at, resistance * at**2 - draft, system, "--", RUST, "the vent asks")
    here = _pressure(resistance * flow * abs(flow) - draft, system)
    axes.plot(_flow(flow, system), here, "o", color=INK, ms=9)
    stall = _flow(fan.abreast * float(fan.stall_flow.m_as("m**3/s")) * speed, system)
    axes.axvline(stall, color=GREY, lw=1.0)
    axes.annotate("stall left of this", (stall, 0.03), (4, 0), ("data", "axes fraction"), "offset points", size=SIZE,
                  color=GREY)  # fmt: skip
    axes.axhline(0.0, color=INK, lw=0.8)
    plain(axes, axis("flow", "volume flow", system), axis("static pressure", "draft", system))
    axes.set(xlim=(0.0, _flow(most, system)), ylim=tuple(_pressure([-0.2 * top - 1.2 * draft, top], system)))
    legend(axes, loc="upper right")
    return figure


def _line(axes: Axes, flow, pressure, system: str, style: str, color: str, words: str, width: float = 1.8) -> None:
    axes.plot(_flow(flow, system), _pressure(pressure, system), style, color=color, lw=width, label=words)


# --- Prediction, and what is to be written ------------------------------------------------------------------------


def prediction(system: str = "US") -> Prediction:
    """What the reader expects of a fan that has stopped."""
    return predict("fans", stopped_fan, system)


LITTLE, MUCH = 0.1, 1.0  # of what the fan makes in July: less is called next to nothing, more is called more


@cache
def full_fire_duty(season: int) -> Duties:
    """What a roof fan must do on the swimming hall with all boilers at high, on a hot stack in one season."""
    own = hall()
    return duties(own.plant, own.seasons, all_at(own.plant, -1, season), own.set_point)


def stopped_fan(name: str) -> dict[str, Quantity | float | str]:
    """What a stopped fan takes at full fire in winter, beside what it makes in July when it turns."""
    winter, july = full_fire_duty(0), full_fire_duty(len(hall().seasons) - 1)
    taken = -float(fan_curve.static_pressure.bare(fan_table.fan(name), winter.flow[0], 0.0, winter.density[0]))
    times = taken / float(july.pressure[0])
    return {
        "right": 0 if times < LITTLE else 1 if times < MUCH else 2,
        "figure": Q_(taken, "Pa"),
        "july": Q_(float(july.pressure[0]), "Pa"),
        "times": times,
        "name": name,
    }


def writing(system: str = "US") -> Writing:
    """The fan law of power, to be written by the reader."""
    return load_writing("fans", power_law, system)


def power_law(power: Quantity, speed: Quantity, density: Quantity) -> dict[str, Quantity]:
    """Shaft power of a fan at another speed and density than its table's, and by the slips that are made with it."""
    n, thin = float(Q_(speed, "").m), float((density / STANDARD_AIR).m_as(""))
    answer = fan_laws.by_the_laws(Q_(1.0, "m**3/s"), Q_(1.0, "Pa"), power, n, thin)[2].to("W")
    return {
        "answer": answer,
        "as_pressure": answer / n,
        "as_flow": answer / n**2,
        "no_density": answer / thin,
        "density_upside_down": answer / thin**2,
    }


# --- Questions ------------------------------------------------------------------------------------------------------


def questions(system: str = "US", seed: int | None = None) -> tuple[Exercise, ...]:
    """Questions of the chapter, with its own figures or those that ``seed`` draws."""
    return load("fans", (look_up, more_flow, cold_start, speed_in_summer), system, seed)


def look_up(pressure: Quantity, hot: Quantity) -> dict[str, Quantity]:
    """Pressure to look up in a table of standard air."""
    return {
        "answer": fan_laws.to_standard_air(pressure, hot),
        "standard": STANDARD_AIR,
        "duty": pressure,
        "upside_down": fan_laws.from_standard_air(pressure, hot),
    }


def more_flow(before: Quantity, after: Quantity, power: Quantity, system: str) -> dict[str, Quantity | str | float]:
    """Shaft power of a fan that is sped up, by the laws."""
    ratio = float((after / before).m_as(""))
    answer = fan_laws.by_the_laws(before, Q_(0.0, "Pa"), power, ratio)[2]
    figures = {"answer": answer.to("W"), "as_flow": (ratio * power).to("W"), "as_pressure": (ratio**2 * power).to("W")}
    return figures | _powers(power, answer, system) | {"ratio": ratio}


def cold_start(hot: Quantity, cold: Quantity, power: Quantity, system: str) -> dict[str, Quantity | str | float]:
    """Shaft power of a fan that starts in cold air, by the laws."""
    ratio = float(hot.m_as("K") / cold.m_as("K"))
    answer = fan_laws.by_the_laws(Q_(1.0, "m**3/s"), Q_(0.0, "Pa"), power, 1.0, ratio)[2]
    wrong = {"unchanged": 1.0, "upside_down": 1.0 / ratio, "root": ratio ** (1 / 3)}
    figures = {"answer": answer.to("W")} | {name: (factor * power).to("W") for name, factor in wrong.items()}
    return figures | _powers(power, answer, system) | {"ratio": ratio}


def _powers(power: Quantity, answer: Quantity, system: str) -> dict[str, str]:
    takes, then = (fan_selection.power_text(float(q.m_as("W")), system) for q in (power, answer))
    return {"takes": takes, "then": then}


def speed_in_summer() -> dict[str, Quantity]:
    """Speed of the larger fan on the swimming hall in summer at full fire, and in standard air."""
    chosen, fan = hall(), fan_table.fan("roof 16")
    state = all_at(chosen.plant, -1, len(chosen.seasons) - 1)
    need = duties(chosen.plant, chosen.seasons, state, chosen.set_point)
    thick = float(STANDARD_AIR.m_as("kg/m**3"))
    speed, in_standard_air = (
        Q_(float(fan_curve.speed_for.bare(fan, need.flow, need.pressure, density)[0]), "")
        for density in (need.density, thick)
    )
    asked = {"flow": Q_(need.flow[0], "m**3/s"), "pressure": Q_(need.pressure[0], "Pa")}
    return {"answer": speed, "in_standard_air": in_standard_air} | asked
