"""Heat loss: a stack outdoors settled and warming, the chapter's figures, live controls and questions."""

from dataclasses import dataclass, replace
from functools import cache, partial
from typing import Any

import numpy as np
from IPython.display import HTML
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from ventcalc.flow import friction, gas_radiation, heat_loss, materials, stack_effect, wall_rings, warm_up
from ventcalc.gas import atmosphere, combustion, condensation, flue_gas
from ventcalc.gas.flue_gas import Gas
from ventcalc.gas.fuels import fuel
from ventcalc.show import plots
from ventcalc.show.axes import axis, label, legend, mark_now, number, picture, plain, two_axes
from ventcalc.show.exercises import Exercise
from ventcalc.show.panels import Panel, choice, slider, steps, table
from ventcalc.show.prediction import Prediction
from ventcalc.show.prediction import load as predict
from ventcalc.show.questions import load
from ventcalc.show.writing import Writing
from ventcalc.show.writing import load as load_writing
from ventcalc.units import Q_, Quantity, show

PRESSURE = 101325.0  # Pa, sea level
EXCESS_AIR = 0.3
ROUGHNESS = 1e-3  # m, metal vents by EN 13384-1 annex B (from memory)
WORDS = {
    "stainless special gas vent single wall": "bare steel",
    "Type B gas vent": "Type B",
    "insulated chimney": "insulated steel",
    "tile-lined masonry chimney": "masonry",
}
STEEL, TYPE_B, INSULATED, MASONRY = WALLS = tuple(WORDS)
_STYLES = dict(zip(WALLS, ("-", "-.", "--", ":"), strict=True))
_TONES = ("#d3d8de", "#f1e4cf", "#d3d8de")  # liner, filling, shell; the layers are named as well


# --- One run, settled and warming -----------------------------------------------------------------------


@cache
def gas() -> Gas:
    """Flue gas of natural gas at 30 % excess air."""
    return combustion.products(fuel("natural gas"), EXCESS_AIR).gas


def dew_point() -> float:
    """Its water dew point, K."""
    return float(condensation.dew_point.bare(gas(), PRESSURE))


@dataclass(frozen=True)
class Run:
    """A stack outdoors, plain SI: name of its wall, bore and length, gas flow, gas and outdoor temperature, wind."""

    wall: str = INSULATED
    bore: float = Q_(8.0, "inch").m_as("m")
    length: float = Q_(40.0, "ft").m_as("m")
    flow: float = Q_(500.0, "lb/hour").m_as("kg/s")
    inlet: float = Q_(350.0, "degF").m_as("K")
    outdoor: float = Q_(60.0, "degF").m_as("K")
    wind: float = Q_(10.0, "mph").m_as("m/s")

    @property
    def specific_heat(self) -> float:
        """J/(kg K) at the inlet."""
        return float(flue_gas.specific_heat.bare(gas(), self.inlet))

    @property
    def radiation(self) -> float:
        """W/(m2 K), of the gas at the inlet to a wall halfway between it and outdoors."""
        films = gas_radiation.radiation_film
        return float(films.bare(gas(), self.inlet, 0.5 * (self.inlet + self.outdoor), self.bore, PRESSURE))

    @property
    def inside_film(self) -> float:
        """W/(m2 K), convection and radiation at the inlet."""
        viscosity, conductivity = flue_gas.transport.bare(gas(), self.inlet)
        reynolds = friction.reynolds.bare(self.flow, self.bore, viscosity)
        nusselt = heat_loss.nusselt.bare(reynolds, flue_gas.prandtl.bare(gas(), self.inlet), ROUGHNESS / self.bore)
        return float(nusselt * conductivity / self.bore) + self.radiation


@dataclass(frozen=True)
class Settled:
    """A run come to rest, plain SI: ``outside_film`` and ``coefficient`` U, cooling number, gas and wall at its end."""

    outside_film: float
    coefficient: float
    cooling: float
    outlet: float
    wall: float


@cache
def settled(run: Run) -> Settled:
    """The run when everything has warmed through; the outside film follows the outer surface near the inlet."""
    wall = wall_rings.rings(run.bore, materials.layers(run.wall))
    resistance, ratio = wall.resistance.sum() * np.pi * run.bore, wall.outer_diameter / run.bore
    surface = run.outdoor + 20.0
    for _ in range(30):  # each turn gains a digit: the film hardly depends on the surface
        outside = heat_loss.outside_film.bare(surface, run.outdoor, wall.outer_diameter, run.wind)
        u = heat_loss.heat_transfer_coefficient.bare(run.inside_film, resistance, outside, ratio)
        surface = run.outdoor + u / (outside * ratio) * (run.inlet - run.outdoor)
    cooling = heat_loss.cooling_number.bare(u, run.bore, run.length, run.flow, run.specific_heat)
    outlet = heat_loss.outlet_temperature.bare(run.inlet, run.outdoor, cooling)
    inner = heat_loss.wall_temperature.bare(outlet, run.outdoor, u, run.inside_film)
    return Settled(*(float(v) for v in (outside, u, cooling, outlet, inner)))


@cache
def warming(run: Run, duration: float, count: int = 120) -> warm_up.WarmUp:
    """The run from light-off, its wall as cold as outdoors, for a duration [s]."""
    return warm_up.warm_up.bare(
        duration, run.inlet, run.outdoor, run.outdoor, run.flow, run.specific_heat, run.inside_film,
        settled(run).outside_film, run.bore, run.length, materials.layers(run.wall), slices=10, steps=count,
    )  # fmt: skip


def draft(run: Run, found: warm_up.WarmUp) -> np.ndarray:
    """Theoretical draft [Pa] of the run, all of it rise, at each time: the mean of 1/T slice by slice."""
    inverse = (0.5 / found.gas[:, 1:] + 0.5 / found.gas[:, :-1]).mean(axis=1)
    air = atmosphere.air_density.bare(run.outdoor, PRESSURE)
    return stack_effect.theoretical_draft.bare(run.length, air, PRESSURE / gas().gas_constant * inverse)


def settled_draft(run: Run) -> float:
    """Draft [Pa] when everything has warmed through."""
    end, constant = settled(run).outlet, gas().gas_constant
    mean = stack_effect.mean_gas_density.bare(PRESSURE, constant, run.inlet, end, run.outdoor)
    air = atmosphere.air_density.bare(run.outdoor, PRESSURE)
    return float(stack_effect.theoretical_draft.bare(run.length, air, mean))


DURATIONS = (60.0, 600.0, 6000.0, 60000.0)  # s


def time_to(run: Run, reached) -> float | None:
    """First time [s] at which ``reached(found)`` holds at a step, or None: by durations that grow tenfold."""
    for duration in DURATIONS:
        found = warming(run, duration)
        holds = reached(found)
        if holds.any():
            return float(found.time[holds.argmax()])
    return None


def time_to_draft(run: Run, share: float = 0.95) -> float | None:
    """Time [s] to this share of the settled draft."""
    return time_to(run, lambda found: draft(run, found) >= share * settled_draft(run))


def time_to_dry(run: Run) -> float | None:
    """Time [s] until the wall at the top is warmer than the dew point; None where it never is."""
    return time_to(run, lambda found: found.wall[:, -1] > dew_point())


def duration_text(seconds: float | None) -> str:
    """ "40 s", "2.7 min", "2.5 h" or "never"."""
    if seconds is None:
        return "never"
    if seconds < 60.0:
        return f"{seconds:.0f} s"
    value, unit = (seconds / 60.0, "min") if seconds < 5400.0 else (seconds / 3600.0, "h")
    return f"{value:.{0 if value >= 9.95 else 1}f} {unit}"


# --- Figures --------------------------------------------------------------------------------------------


def through_the_wall(system: str = "US") -> Figure:
    """The picture of the thing: temperature from the gas to the air through two walls, at the foot of the stack."""
    figure, both = two_axes(3.2, sharey=True)
    for axes, name in zip(both, (INSULATED, MASONRY), strict=True):
        _draw_wall(axes, Run(wall=name), system)
    return figure


def _draw_wall(axes: Axes, run: Run, system: str) -> None:
    parts, found, radius = materials.layers(run.wall), settled(run), run.bore / 2
    per_meter = found.coefficient * np.pi * run.bore * (run.inlet - run.outdoor)  # W/m
    places, values = [0.0], [run.inlet - per_meter / (run.inside_film * np.pi * run.bore)]
    for part, tone in zip(parts, _TONES, strict=False):
        outer = radius + part.thickness.m_as("m")
        drop = per_meter * np.log(outer / radius) / (2 * np.pi * part.conductivity.m_as("W/(m*K)"))
        left, right = (number(r - run.bore / 2, "m", "diameter", system) for r in (radius, outer))
        axes.axvspan(left, right, fc=tone, ec=plots.GREY, lw=0.6)
        if outer - radius > 0.01:
            low, words = number(run.outdoor - 33.0, "K", "temperature", system), part.what.replace(" ", "\n")
            axes.text((left + right) / 2, low, words, ha="center", va="bottom", size=plots.SIZE, color=plots.INK)
        places, values, radius = [*places, outer - run.bore / 2], [*values, values[-1] - drop], outer
    film = 0.3 * places[-1]  # how wide the films are drawn
    places = [-2 * film, -film, *places, places[-1] + film, places[-1] + 2 * film]
    values = [run.inlet, run.inlet, *values, run.outdoor, run.outdoor]
    x = number(places, "m", "diameter", system)
    axes.plot(x, number(values, "K", "temperature", system), "o-", color=plots.RUST, lw=1.8, ms=3.5)
    dew = number(dew_point(), "K", "temperature", system)
    axes.axhline(dew, color=plots.BLUE, lw=1.0, ls="--")
    axes.text(x[0], dew, "dew point", va="bottom", size=plots.SIZE, color=plots.BLUE)
    plain(axes, axis("from the inner surface", "diameter", system), axis("temperature", "temperature", system))
    axes.set_ylim(bottom=number(run.outdoor - 35.0, "K", "temperature", system))
    axes.set_title(WORDS[run.wall], size=plots.SIZE)


def _dew_line(axes: Axes, system: str) -> None:
    axes.axhline(number(dew_point(), "K", "temperature", system), color=plots.BLUE, lw=1.0, label="dew point")


def along_the_run(system: str = "US") -> Figure:
    """Gas and inner wall along the stack, settled, on a winter day, for three walls; and the dew point."""
    (figure, both), cold, share = two_axes(3.2, sharey=True), WINTER, np.linspace(0.0, 1.0, 41)
    for name in (STEEL, INSULATED, MASONRY):
        run = Run(wall=name, outdoor=cold)
        found, x = settled(run), number(share * run.length, "m", "height", system)
        inside = heat_loss.outlet_temperature.bare(run.inlet, run.outdoor, share * found.cooling)
        wall = heat_loss.wall_temperature.bare(inside, run.outdoor, found.coefficient, run.inside_film)
        for axes, values in zip(both, (inside, wall), strict=True):
            line = number(values, "K", "temperature", system)
            axes.plot(x, line, _STYLES[name], color=plots.INK, lw=1.8, label=WORDS[name])
    for axes, words in zip(both, ("gas", "inner wall"), strict=True):
        _dew_line(axes, system)
        plain(axes, axis("along the stack", "height", system), axis("temperature", "temperature", system))
        axes.set_title(words, size=plots.SIZE)
    _legend_above(figure, both[1])
    return figure


def _legend_above(figure: Figure, axes: Axes) -> None:
    look = {"loc": "outside upper center", "ncols": 5, "handlelength": 1.8, "columnspacing": 1.2}
    legend(figure, handles=axes.get_legend_handles_labels()[0], **look)


def warming_up(system: str = "US") -> Figure:
    """Draft and the inner wall at the top against the time since light-off, for four walls."""
    figure, both = two_axes(3.4)
    for name in WALLS:
        run = Run(wall=name)
        curves = [warming(run, duration) for duration in DURATIONS]
        time = np.concatenate([c.time[12:] for c in curves]) / 60.0
        pull = np.concatenate([draft(run, c)[12:] for c in curves])
        wall = np.concatenate([c.wall[12:, -1] for c in curves])
        style = {"color": plots.INK, "lw": 1.8, "ls": _STYLES[name], "label": WORDS[name]}
        order = np.argsort(time)
        both[0].semilogx(time[order], number(pull[order], "Pa", "draft", system), **style)
        both[1].semilogx(time[order], number(wall[order], "K", "temperature", system), **style)
    _dew_line(both[1], system)
    plain(both[0], "time since light-off, min", axis("theoretical draft", "draft", system))
    plain(both[1], "time since light-off, min", axis("inner wall at the top", "temperature", system))
    both[0].set_ylim(bottom=0.0)
    for axes in both:
        axes.xaxis.set_major_formatter("{x:g}")
    _legend_above(figure, both[1])
    return figure


# --- Tables ---------------------------------------------------------------------------------------------

WINTER = Q_(20.0, "degF").m_as("K")


def all_layers(system: str = "US") -> HTML:
    """The layers of the four walls, with thickness and weight."""
    weight, words = ("lb/ft**2", "lb/ft²") if system == "US" else ("kg/m**2", "kg/m²")
    digits = ".2g" if system == "US" else ".1f"
    rows = [
        (
            WORDS[name],
            layer.what,
            f"{number(layer.thickness.m_as('m'), 'm', 'diameter', system):{digits}}",
            f"{(layer.thickness * layer.density).m_as(weight):.1f}",
        )
        for name in WALLS
        for layer in materials.layers(name)
    ]
    return HTML(table(("wall", "layer", f"thickness, {label('diameter', system)}", f"weight, {words}"), rows))


def in_wind(system: str = "US") -> HTML:
    """Every wall from still air to a strong wind."""
    rows = []
    for name in WALLS:
        for wind in (Q_(mph, "mph") for mph in (0.0, 10.0, 20.0)):
            end = settled(Run(wall=name, wind=wind.m_as("m/s")))
            films = (show(Q_(v, "W/(m**2*K)"), system) for v in (end.outside_film, end.coefficient))
            temperatures = (show(Q_(v, "K"), system) for v in (end.outlet, end.wall))
            rows.append((WORDS[name], show(wind, system, "wind"), *films, *temperatures))
    return HTML(table(("wall", "wind", "outside film", "U", "gas at the top", "wall at the top"), rows))


def winter_tops(system: str = "US") -> HTML:
    """Gas and wall at the top of three stacks on a winter day, beside the dew point."""
    rows = []
    for name in (STEEL, INSULATED, MASONRY):
        end = settled(Run(wall=name, outdoor=WINTER))
        shown = (show(Q_(v, "K"), system) for v in (end.outlet, end.wall, dew_point()))
        rows.append((WORDS[name], *shown, "dry" if end.wall > dew_point() else "water condenses"))
    return HTML(table(("wall", "gas at the top", "wall at the top", "dew point", "wall there"), rows))


def morning(system: str = "US") -> HTML:
    """Draft and dryness of the four walls after light-off."""
    rows = []
    for name in WALLS:
        run = Run(wall=name)
        drafts = (show(Q_(float(d), "Pa"), system) for d in (draft(run, warming(run, 60.0))[0], settled_draft(run)))
        rows.append((WORDS[name], *drafts, *(duration_text(t) for t in (time_to_draft(run), time_to_dry(run)))))
    header = ("wall", "draft, cold wall", "draft, settled", "95 % of that after", "wall at the top dry after")
    return HTML(table(header, rows))


# --- Live controls --------------------------------------------------------------------------------------

MINUTES = (0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 60.0, 120.0, 240.0, 480.0, 1440.0)


def explorer(system: str = "US") -> Panel:
    """Controls of a stack outdoors: wall, length, gas flow and temperature, weather, and the time since light-off."""
    run = Run()
    controls = {
        "wall": choice("Wall", materials.names(), run.wall),
        "minutes": slider("Since light-off", [(duration_text(60 * m), m) for m in MINUTES], 10.0),
        "length": slider("Height", steps("height", system, range(10, 151, 5), range(3, 46)), run.length),
        "flow": slider(
            "Flue gas", steps("mass flow", system, range(100, 2001, 100), np.arange(1, 26) / 100.0), run.flow
        ),
        "inlet": slider(
            "Gas enters at", steps("temperature", system, range(120, 601, 10), range(50, 316, 5)), run.inlet
        ),
        "outdoor": slider("Outdoors", steps("temperature", system, range(-40, 106, 5), range(-40, 41, 3)), run.outdoor),
        "wind": slider("Wind", steps("wind", system, range(0, 41, 5), range(0, 19, 2)), run.wind),
    }
    return Panel(partial(explorer_answer, system), controls)


def explorer_answer(system: str, *, minutes: float, **of_run) -> tuple[str, bytes]:
    """A run settled and some minutes after light-off; ``of_run`` are fields of `Run`."""
    run = replace(Run(), **of_run)
    end, found, last = settled(run), warming(run, 60.0 * minutes, 60), settled_draft(run)
    pull = float(draft(run, found)[-1])

    def row(when: str, gas: float, wall: float, pull: float) -> tuple[str, ...]:
        shown = (show(q, system) for q in (Q_(float(gas), "K"), Q_(float(wall), "K"), Q_(pull, "Pa")))
        return (when, *shown, "dry" if wall > dew_point() else "water condenses")

    rows = [
        row(f"after {duration_text(60 * minutes)}", found.gas[-1, -1], found.wall[-1, -1], pull),
        row("settled", end.outlet, end.wall, last),
    ]
    u, share = show(Q_(end.coefficient, "W/(m**2*K)"), system), pull / last if last else 0.0
    words = (
        f"<p>U {u}, cooling number {end.cooling:.2f}; draft is {100 * share:.0f} % of what it will be.</p>"
        if last
        else ""
    )
    numbers = table(("", "gas at the top", "wall at the top", "draft", "wall there"), rows)
    return numbers + words + _too_hot(run, system), _explorer_picture(system, run, end, found)


def _too_hot(run: Run, system: str) -> str:
    """A caution where the gas is hotter than the wall is rated for; its figures are then of no pipe that would last."""
    rated, gas_enters = materials.material(run.wall).max_temperature, Q_(run.inlet, "K")
    if gas_enters <= rated:
        return ""
    hot = materials.Objection("material_hot", "stack", run.wall, {"gas": gas_enters, "rated": rated})
    return f"<p><b>{run.wall} does not stand this:</b> {materials.sentence(hot, system)}.</p>"


def _explorer_picture(system: str, run: Run, end: Settled, found: warm_up.WarmUp) -> bytes:
    figure = Figure((plots.WIDTH, 3.5))
    top = number(run.length, "m", "height", system)
    left, right = figure.add_axes((0.33, 0.16, 0.27, 0.63)), figure.add_axes((0.73, 0.16, 0.24, 0.63))
    _draw_stack(figure.add_axes((0.0, 0.16, 0.24, 0.63)), system, run, found)
    height = found.distance / found.distance[-1]
    at_rest = heat_loss.outlet_temperature.bare(run.inlet, run.outdoor, height * end.cooling)
    for share, values, style, words in (
        (height, at_rest, "--", "gas, settled"),
        (height, found.gas[-1], "-", "gas, now"),
        (0.5 * (height[1:] + height[:-1]), found.wall[-1], ":", "wall, now"),
    ):
        x = number(values, "K", "temperature", system)
        left.plot(x, share * top, style, color=plots.INK, lw=1.8, label=words)
    dew = number(dew_point(), "K", "temperature", system)
    left.axvline(dew, color=plots.BLUE, lw=1.0, label="dew point")
    left.set_ylim(0.0, top)
    plain(left, axis("temperature", "temperature", system), axis("height", "height", system))
    legend(figure, handles=left.get_legend_handles_labels()[0], loc="upper center", ncols=4, borderaxespad=0.1)
    pull = number(draft(run, found), "Pa", "draft", system)
    right.plot(found.time / 60.0, pull, color=plots.INK, lw=1.8)
    mark_now(right, found.time[-1] / 60.0, pull[-1], clip_on=False)
    right.set_ylim(*((0.0, None) if settled_draft(run) > 0.0 else (None, 0.0)))
    plain(right, "since light-off, min", axis("draft", "draft", system))
    return picture(figure)


def _draw_stack(axes: Axes, system: str, run: Run, found: warm_up.WarmUp) -> None:
    """The stack as high as the axes beside it, with drops wherever its wall is below the dew point now."""
    axes.set(xlim=(0.0, 10.0), ylim=(0.0, 1.0))
    axes.axis("off")
    axes.add_patch(Rectangle((2.4, 0.0), 4.6, 1.0, fc="#fbe9dd", ec="none"))
    for x in (1.9, 7.0):
        axes.add_patch(Rectangle((x, 0.0), 0.5, 1.0, fc=plots.PALE, ec=plots.INK, lw=1.0))
    wall = found.wall[-1]
    middle = (np.arange(wall.size) + 0.5) / wall.size
    wet = middle[wall <= dew_point()]
    for x in (2.75, 6.65):
        axes.plot(np.full(wet.size, x), wet, "v", color=plots.BLUE, ms=5)
    for y, kelvin in ((0.88, found.gas[-1, -1]), (0.06, run.inlet)):
        words = show(Q_(float(kelvin), "K"), system)
        axes.text(4.7, y, words, ha="center", va="center", size=plots.SIZE, color=plots.RUST)
    outside = f"{show(Q_(run.outdoor, 'K'), system)}\nwind {show(Q_(run.wind, 'm/s'), system, 'wind')}"
    axes.text(4.7, 1.03, outside, ha="center", va="bottom", size=plots.SIZE, color=plots.INK)
    axes.text(4.7, -0.04, show(Q_(run.flow, "kg/s"), system), ha="center", va="top", size=plots.SIZE, color=plots.INK)


# --- Prediction, and what is to be written --------------------------------------------------------------


def prediction(system: str = "US") -> Prediction:
    """What the reader expects of a cold masonry chimney in the morning."""
    return predict("heat_loss", masonry_dry, system)


MINUTES_AT_MOST, HOUR = 900.0, 3600.0  # s: below the first it is minutes, above the second hours


def masonry_dry(inlet: Quantity) -> dict[str, Quantity | int | str]:
    """How long masonry, lit cold, stays wet at the top, beside insulated steel."""
    brick, steel = (time_to_dry(Run(wall=name, inlet=inlet.m_as("K"))) for name in (MASONRY, INSULATED))
    never = float("inf")
    seconds = never if brick is None else brick
    return {
        "right": 0 if seconds < MINUTES_AT_MOST else 1 if seconds < HOUR else 2,
        "figure": Q_(seconds, "s"),
        "steel": Q_(never if steel is None else steel, "s"),
        "dew": Q_(dew_point(), "K"),
        "outdoor": Q_(Run().outdoor, "K"),
    }


def writing(system: str = "US") -> Writing:
    """The temperature at which gas leaves a run, to be written by the reader."""
    return load_writing("heat_loss", leaves_at, system)


def leaves_at(inlet: Quantity, outdoor: Quantity, u: Quantity, surface: Quantity, flow: Quantity, heat: Quantity,
              system: str) -> dict[str, Quantity]:  # fmt: skip
    """Temperature at the end of a run of that inner surface, and what it becomes by the slips made with it."""
    bore = Q_(1.0, "m")  # any: only the surface counts
    cooling = heat_loss.cooling_number(u, bore, surface / (np.pi * bore), flow, heat)
    n, degrees = float(cooling.m_as("")), "degF" if system == "US" else "degC"
    hot, cold = inlet.m_as(degrees), outdoor.m_as(degrees)
    return {
        "answer": heat_loss.outlet_temperature(inlet, outdoor, cooling),
        "straight": Q_(hot - n * (hot - cold), degrees),
        "to_zero": Q_(hot * np.exp(-n), degrees),
        "lost": Q_(hot - (hot - cold) * np.exp(-n), degrees),
        "mean": heat_loss.mean_temperature(inlet, outdoor, cooling),
    }


# --- Questions ------------------------------------------------------------------------------------------


def questions(system: str = "US", seed: int | None = None) -> tuple[Exercise, ...]:
    """Questions of the chapter, with its own figures or those that ``seed`` draws."""
    return load("heat_loss", (outlet, sweating, thin_wall, brick), system, seed)


def _between(low: Quantity, high: Quantity, share: float) -> Quantity:
    """The temperature that lies this share of the way from one to another."""
    return Q_(float(low.m_as("K") + share * (high.m_as("K") - low.m_as("K"))), "K")


def outlet(u: Quantity, bore: Quantity, length: Quantity, flow: Quantity, heat: Quantity, inlet: Quantity,
           outdoor: Quantity) -> dict[str, Quantity | float]:  # fmt: skip
    """Temperature at which gas leaves a vent outdoors."""
    cooling = heat_loss.cooling_number(u, bore, length, flow, heat)
    n = float(cooling.m_as(""))
    return {
        "answer": heat_loss.outlet_temperature(inlet, outdoor, cooling),
        "n": n,
        "btu": heat.m_as("Btu/(lb*delta_degF)"),
        "joule": heat.m_as("J/(kg*K)"),
        "mean": heat_loss.mean_temperature(inlet, outdoor, cooling),
        "straight": _between(inlet, outdoor, n),
        "to_zero": inlet.to("K") * np.exp(-n),
        "by_radius": heat_loss.outlet_temperature(inlet, outdoor, cooling / 2),
    }


def sweating(u: Quantity, film: Quantity, inside: Quantity, outdoor: Quantity, dew: Quantity) -> dict[str, Quantity]:
    """Temperature of the inner wall at the top of a bare stack."""
    return {
        "answer": heat_loss.wall_temperature(inside, outdoor, u, film),
        "wrong_side": _between(outdoor, inside, float((u / film).m_as(""))),
        "mean": _between(outdoor, inside, 0.5),
    }


STEEL_DENSITY, STEEL_HEAT = Q_(7900.0, "kg/m**3"), Q_(460.0, "J/(kg*K)")


def thin_wall(sheet: Quantity, inside: Quantity, outside: Quantity, hot: Quantity, cold: Quantity) -> dict[str, Any]:
    """Temperature of a steel sheet a minute after light-off."""
    held = STEEL_DENSITY * sheet * STEEL_HEAT
    end = _between(cold, hot, float((inside / (inside + outside)).m_as("")))

    def gone(films: Quantity) -> float:
        """Share of its way that the sheet has gone with these films over its time constant."""
        return 1.0 - float(np.exp(-(Q_(60.0, "s") * films / held).m_as("")))

    return {
        "answer": _between(cold, end, gone(inside + outside)),
        "btu": held.m_as("Btu/(ft**2*delta_degF)"),
        "kilojoule": held.m_as("kJ/(m**2*K)"),
        "tau": (held / (inside + outside)).m_as("s"),
        "end": end,
        "inside_alone": _between(cold, end, gone(inside)),
        "outside_alone": _between(cold, end, gone(outside)),
        "cooling": _between(end, cold, gone(inside + outside)),
    }


def brick(mass: Quantity, heat: Quantity, start: Quantity, flow: Quantity, cp: Quantity, drop: Quantity,
          system: str) -> dict[str, Any]:  # fmt: skip
    """Mean temperature of the brick of a masonry stack two hours after light-off."""
    rate = (flow * cp * Q_(drop.m_as("delta_degC"), "K")).to("W")
    rise = float((rate * Q_(2.0, "hour") / (mass * heat)).m_as("K"))
    cold, btu, joule = start.m_as("K"), "Btu/(lb*delta_degF)", "J/(kg*K)"
    return {
        "answer": Q_(cold + rise, "K"),
        "pounds": mass.m_as("lb"),
        "kilograms": mass.m_as("kg"),
        **{"brick_btu": heat.m_as(btu), "brick_joule": heat.m_as(joule)},
        **{"gas_btu": cp.m_as(btu), "gas_joule": cp.m_as(joule)},
        "rate": rate,
        "energy": rate * Q_(2.0, "hour"),
        "rise": Q_(rise, "delta_degC"),
        "one_hour": Q_(cold + 0.5 * rise, "K"),
        "one_heat": Q_(cold + rise * float((heat / cp).m_as("")), "K"),
        "rise_alone": Q_(rise * 1.8, "degF") if system == "US" else Q_(rise, "degC"),
    }
