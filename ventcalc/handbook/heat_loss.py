"""Heat loss: the chapter's questions, live controls, checks and figures."""

from dataclasses import dataclass, replace
from functools import cache, partial
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ventcalc import checked, tables
from ventcalc.flow import friction, gas_radiation, heat_loss, materials, stack_effect, wall_rings, warm_up
from ventcalc.gas import atmosphere, combustion, condensation, flue_gas
from ventcalc.gas.flue_gas import Gas
from ventcalc.gas.fuels import fuel
from ventcalc.show import panels, plots
from ventcalc.show.axes import axis, legend, number, picture, plain, row_of_axes
from ventcalc.show.exercises import Exercise
from ventcalc.show.panels import steps
from ventcalc.show.questions import load
from ventcalc.units import Q_, Quantity, show

PRESSURE = 101325.0  # Pa, the chapter stands at sea level
EXCESS_AIR = 0.3
ROUGHNESS = 1e-3  # m, metal vents by EN 13384-1 annex B (from memory)
STEEL, TYPE_B, INSULATED, MASONRY = WALLS = (
    "stainless special gas vent single wall",
    "Type B gas vent",
    "insulated chimney",
    "tile-lined masonry chimney",
)
WORDS = dict(zip(WALLS, ("bare steel", "Type B", "insulated steel", "masonry"), strict=True))


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
        wall = 0.5 * (self.inlet + self.outdoor)
        return float(gas_radiation.radiation_film.bare(gas(), self.inlet, wall, self.bore, PRESSURE))

    @property
    def inside_film(self) -> float:
        """W/(m2 K), convection and radiation at the inlet."""
        viscosity, conductivity = flue_gas.transport.bare(gas(), self.inlet)
        reynolds = friction.reynolds.bare(self.flow, self.bore, viscosity)
        prandtl = flue_gas.prandtl.bare(gas(), self.inlet)
        nusselt = heat_loss.nusselt.bare(reynolds, prandtl, ROUGHNESS / self.bore)
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
    end = settled(run)
    mean = stack_effect.mean_gas_density.bare(PRESSURE, gas().gas_constant, run.inlet, end.outlet, run.outdoor)
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


# --- Checks ---------------------------------------------------------------------------------------------


def _row(key: str) -> Quantity:
    """Our answer to one of the cooling rows H011 to H019."""
    row = tables.row("heat_transfer_checks", key)
    units = {"U_W_m2K": "W/(m**2*K)", "length_m": "m", "mass_flow_kg_s": "kg/s", "cp_J_kgK": "J/(kg*K)"}
    u, length, flow, heat = (Q_(float(row[column]), unit) for column, unit in units.items())
    cooling = heat_loss.cooling_number(u, Q_(float(row["perimeter_m"]) / np.pi, "m"), length, flow, heat)
    if row["quantity"] == "cooling number K":
        return cooling
    law = heat_loss.outlet_temperature if row["quantity"].startswith("outlet") else heat_loss.mean_temperature
    return law(Q_(float(row["inlet_C"]), "degC"), Q_(float(row["ambient_C"]), "degC"), cooling)


def checks() -> tuple[checked.Check, ...]:
    """The cooling of three runs, and the outside films that the solver takes."""
    ours = {f"H{n:03d}": _row(f"H{n:03d}") for n in range(11, 20)}
    return checked.compare(
        "heat_transfer_checks", ours | {"H020": heat_loss.OUTDOOR_FILM, "H021": heat_loss.STILL_ROOM_FILM}
    )


# A worked example: 5 % carbon dioxide and 8 % water vapor at 2 atm, over 3 m of path, 118 m2 of black wall at 600 K.
_EXAMPLE, _ATM, _PATH, _WALL, _AREA = Gas(co2=0.05, h2o=0.08, n2=0.82, o2=0.05), 101325.0, 3.0, 600.0, 118.0


def _emissivity(kelvin: float, path: float, pressure: float, **shares: float) -> float:
    """Emissivity of carbon dioxide or water vapor or both in nitrogen, over a path [m] at a pressure [Pa]."""
    mixed = Gas(**{"co2": 0.0, "h2o": 0.0, "o2": 0.0} | shares, n2=1.0 - sum(shares.values()))
    return float(gas_radiation.emissivity.bare(mixed, kelvin, path, pressure))


def _trace(species: str, kelvin: float, atm_m: float) -> float:
    """Emissivity of a trace of one gas over a path that holds so much of it [atm m], as the charts are drawn."""
    return _emissivity(kelvin, atm_m / 1e-6, _ATM, **{species: 1e-6})


def _overlap(kelvin: float, co2: float, h2o: float) -> float:
    """What both gases emit less than their sum, at 1 atm, paths in atm m."""
    shares = {"co2": co2 / _PATH, "h2o": h2o / _PATH}
    each = sum(_emissivity(kelvin, _PATH, _ATM, **{species: share}) for species, share in shares.items())
    return each - _emissivity(kelvin, _PATH, _ATM, **shares)


def _pressed(species: str, kelvin: float) -> float:
    """Emissivity of one gas of the example at its 2 atm over that of a trace of it."""
    share = getattr(_EXAMPLE, species)
    return _emissivity(kelvin, _PATH, 2.0 * _ATM, **{species: share}) / _trace(species, kelvin, 2.0 * share * _PATH)


def radiation_checks() -> tuple[checked.Check, ...]:
    """Gas radiation: two worked examples read off Hottel's charts, and mean beam lengths."""
    rows = tables.read("gas_radiation_checks")
    read = {
        r["id"]: sum(
            _trace(s, float(r["temperature_K"]), float(r[f"{s}_atm_m"])) for s in ("co2", "h2o") if r[f"{s}_atm_m"]
        )
        for r in rows
    }
    hot = 1200.0
    out = gas_radiation.emissivity.bare(_EXAMPLE, hot, _PATH, 2.0 * _ATM)
    back = gas_radiation.absorptivity.bare(_EXAMPLE, hot, _WALL, _PATH, 2.0 * _ATM)
    example = {
        "GR178": _trace("co2", hot, 0.3),
        "GR179": _trace("h2o", hot, 0.48),
        "GR180": _overlap(hot, 0.3, 0.48),
        "GR181": _pressed("co2", hot),
        "GR182": _pressed("h2o", hot),
        "GR183": out,
        "GR184": gas_radiation.emissivity.bare(_EXAMPLE, hot, 2.0 * _PATH, _ATM),
        "GR185": _trace("co2", _WALL, 0.15),
        "GR186": _trace("h2o", _WALL, 0.24),
        "GR187": _overlap(_WALL, 0.15, 0.24),
        "GR188": back,
        "GR189": _AREA * heat_loss.STEFAN_BOLTZMANN * (out * hot**4 - back * _WALL**4) / 1e6,
        "GR191": gas_radiation.mean_beam_length.bare(1.0),
    }
    return checked.compare("gas_radiation_checks", read) + checked.compare("gas_radiation_charts_checks", example)


def chart_rows() -> list[dict[str, str]]:
    """The nodes of Hottel's charts: traces of one gas at 1 atm."""
    named = "total emissivity, partial pressure"
    return [r for r in tables.read("gas_radiation_charts_checks") if r["quantity"].startswith(named)]


def chart_table() -> str:
    """Ours over Hottel's charts, by gas and what the path holds: least and most from 400 to 1000 K, and tolerance."""
    found: dict[tuple[str, str], list[float]] = {}
    allowed: dict[tuple[str, str], str] = {}
    for r in chart_rows():
        key = r["gas"], r["pL_atm_m"]
        ours = _trace(r["gas"].lower(), float(r["temperature_K"]), float(r["pL_atm_m"]))
        found.setdefault(key, []).append(ours / float(r["value"]))
        allowed[key] = r["tolerance_suggested"]
    rows = [
        (gas, f"{path} atm·m", str(len(ratios)), f"{min(ratios):.2f} to {max(ratios):.2f}", allowed[gas, path])
        for (gas, path), ratios in found.items()
    ]
    return panels.table(("gas", "in the path", "values", "ours / chart", "tolerance"), rows)


def film_checks() -> tuple[checked.Check, ...]:
    """The convective film: Nusselt numbers, smooth and in the passage, of a long pipe; a duct; Norris's exponent."""
    rows = {r["id"]: r for r in tables.read("film_checks")}
    ours = {
        key: heat_loss.nusselt.bare(float(r["reynolds"]), float(r["prandtl"]), 0.0)
        for key, r in rows.items()
        if r["quantity"].startswith("Nusselt") and r["diameter_over_length"] in ("", "0")
    }
    return checked.compare("film_checks", ours | _duct(float(rows["FM012"]["value"])))


def _duct(film: float) -> dict[str, float]:
    """The book's square duct of 0.2 m and 8 m with its own film: outlet [degC], and heat lost [W]."""
    side, length, inlet, wall = 0.2, 8.0, Q_(80.0, "degC").m_as("K"), Q_(60.0, "degC").m_as("K")
    air = Gas.dry_air()
    flow = 0.15 * float(flue_gas.density.bare(air, inlet, PRESSURE))
    heat = float(flue_gas.specific_heat.bare(air, inlet))
    perimeter = 4.0 * side
    cooling = heat_loss.cooling_number.bare(film, perimeter / np.pi, length, flow, heat)
    outlet = heat_loss.outlet_temperature.bare(inlet, wall, cooling)
    return {"FM013": float(outlet) - 273.15, "FM014": flow * heat * (inlet - float(outlet))}


# Rows of the handbook's design coefficients, from memory, beside ours of the same build-up.
BUILD_UPS = {
    "H001": STEEL,
    "H005": "single-wall galvanized connector",
    "H007": MASONRY,
    "H008": TYPE_B,
    "H009": "stainless special gas vent double wall",
    "H010": INSULATED,
}


def design_run(name: str) -> Run:
    """A meter of a material of 200 mm bore, with flue gas as in a gas boiler's vent: 150 degC, 5 m/s."""
    bore, temperature = Q_(200.0, "mm"), Q_(150.0, "degC")
    flow = flue_gas.density(gas(), temperature, Q_(PRESSURE, "Pa")) * Q_(5.0, "m/s") * np.pi / 4 * bore**2
    return Run(name, bore.m_as("m"), 1.0, float(flow.m_as("kg/s")), float(temperature.m_as("K")))


def design_coefficient(name: str, film: float) -> Quantity:
    """U of a material's wall in `design_run` with that outside film [W/(m2 K)]."""
    wall, inside = materials.material(name), Q_(design_run(name).inside_film, "W/(m**2*K)")
    return heat_loss.heat_transfer_coefficient(
        inside, wall.wall_resistance, Q_(film, "W/(m**2*K)"), wall.diameter_ratio
    )


def design_table(system: str = "US") -> str:
    """Recalled design coefficients beside ours in a still room and outdoors; information, no proof."""
    rows = []
    for key, name in BUILD_UPS.items():
        row = tables.row("heat_transfer_checks", key)
        recalled = Q_(float(row["value"]), "Btu/(hour*ft**2*delta_degF)")
        films = (heat_loss.STILL_ROOM_FILM, heat_loss.OUTDOOR_FILM)
        shown = [show(u, system, "heat transfer") for u in (recalled, *(design_coefficient(name, f) for f in films))]
        rows.append((key, row["wall"], *shown, row["status"]))
    return panels.table(("", "wall", "recalled U", "ours, still room", "ours, outdoors", "status"), rows)


# --- Figures --------------------------------------------------------------------------------------------


def through_the_wall(system: str = "US") -> Figure:
    """The picture of the thing: temperature from the gas to the air through two walls, at the foot of the stack."""
    figure, both = _two(3.2, sharey=True)
    for axes, name in zip(both, (INSULATED, MASONRY), strict=True):
        _draw_wall(axes, Run(wall=name), system)
    return figure


_TONES = ("#d3d8de", "#f1e4cf", "#d3d8de")  # liner, filling, shell; the layers are named as well


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


_STYLES = dict(zip(WALLS, ("-", "-.", "--", ":"), strict=True))


def _dew_line(axes: Axes, system: str) -> None:
    axes.axhline(number(dew_point(), "K", "temperature", system), color=plots.BLUE, lw=1.0, label="dew point")


def _two(height: float, **kwargs) -> tuple[Figure, np.ndarray]:
    figure = Figure(figsize=(plots.WIDTH, height), layout="constrained")
    return figure, figure.subplots(1, 2, **kwargs)


def along_the_run(system: str = "US") -> Figure:
    """Gas and inner wall along the stack, settled, on a winter day, for three walls; and the dew point."""
    (figure, both), cold = _two(3.2, sharey=True), Q_(20.0, "degF").m_as("K")
    share = np.linspace(0.0, 1.0, 41)
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
    legend(figure, handles=axes.get_legend_handles_labels()[0], loc="outside upper center", ncols=5, handlelength=1.8,
           columnspacing=1.2)  # fmt: skip


def warming_up(system: str = "US") -> Figure:
    """Draft and the inner wall at the top against the time since light-off, for four walls."""
    figure, both = _two(3.4)
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


# --- Live controls --------------------------------------------------------------------------------------

MINUTES = (0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 60.0, 120.0, 240.0, 480.0, 1440.0)


def explorer(system: str = "US") -> panels.Panel:
    """Controls of a stack outdoors: wall, length, gas flow and temperature, weather, and the time since light-off."""
    run = Run()
    flows = steps("mass flow", system, range(100, 2001, 100), np.arange(1, 26) / 100.0)
    inlets = steps("temperature", system, range(120, 601, 10), range(50, 316, 5))
    outdoors = steps("temperature", system, range(-40, 106, 5), range(-40, 41, 3))
    controls = {
        "wall": panels.choice("Wall", materials.names(), run.wall),
        "minutes": panels.slider("Since light-off", [(duration_text(60 * m), m) for m in MINUTES], 10.0),
        "length": panels.slider("Height", steps("height", system, range(10, 151, 5), range(3, 46)), run.length),
        "flow": panels.slider("Flue gas", flows, run.flow),
        "inlet": panels.slider("Gas enters at", inlets, run.inlet),
        "outdoor": panels.slider("Outdoors", outdoors, run.outdoor),
        "wind": panels.slider("Wind", steps("wind", system, range(0, 41, 5), range(0, 19, 2)), run.wind),
    }
    return panels.Panel(partial(explorer_answer, system), controls)


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
    words = f"<p>U {u}, cooling number {end.cooling:.2f}; draft is {share:.0%} of what it will be.</p>" if last else ""
    numbers = panels.table(("", "gas at the top", "wall at the top", "draft", "wall there"), rows)
    return numbers + words, _explorer_picture(system, run, end, found)


def _explorer_picture(system: str, run: Run, end: Settled, found: warm_up.WarmUp) -> bytes:
    figure, (left, right) = row_of_axes(2, 3.0)
    at_rest = heat_loss.outlet_temperature.bare(run.inlet, run.outdoor, found.distance / run.length * end.cooling)
    middle = 0.5 * (found.distance[1:] + found.distance[:-1])
    for x, values, style, words in (
        (found.distance, at_rest, "--", "gas, settled"),
        (found.distance, found.gas[-1], "-", "gas, now"),
        (middle, found.wall[-1], ":", "wall, now"),
    ):
        x, y = number(x, "m", "height", system), number(values, "K", "temperature", system)
        left.plot(x, y, style, color=plots.INK, lw=1.8, label=words)
    _dew_line(left, system)
    plain(left, axis("along the stack", "height", system), axis("temperature", "temperature", system))
    legend(figure, handles=left.get_legend_handles_labels()[0], loc="upper center", ncols=4, borderaxespad=0.1)
    right.plot(found.time / 60.0, number(draft(run, found), "Pa", "draft", system), color=plots.INK, lw=1.8)
    right.set_ylim(*((0.0, None) if settled_draft(run) > 0.0 else (None, 0.0)))
    plain(right, "time since light-off, min", axis("theoretical draft", "draft", system))
    return picture(figure)


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
    cold, of_mass = start.m_as("K"), "Btu/(lb*delta_degF)"
    return {
        "answer": Q_(cold + rise, "K"),
        "pounds": mass.m_as("lb"),
        "kilograms": mass.m_as("kg"),
        "brick_btu": heat.m_as(of_mass),
        "brick_joule": heat.m_as("J/(kg*K)"),
        "gas_btu": cp.m_as(of_mass),
        "gas_joule": cp.m_as("J/(kg*K)"),
        "kilowatts": rate.m_as("kW"),
        "megajoules": (rate * Q_(2.0, "hour")).m_as("MJ"),
        "btu": rate.m * 7200 / 1055.06,
        "rise": Q_(rise, "delta_degC"),
        "one_hour": Q_(cold + 0.5 * rise, "K"),
        "one_heat": Q_(cold + rise * float((heat / cp).m_as("")), "K"),
        "rise_alone": Q_(rise * 1.8, "degF") if system == "US" else Q_(rise, "degC"),
    }
