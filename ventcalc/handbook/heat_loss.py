"""Heat loss: the chapter's questions, live controls, checks and figures."""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ventcalc import checked, tables
from ventcalc.flow import friction, gas_radiation, heat_loss, materials, stack_effect, wall_rings, warm_up
from ventcalc.flow.warm_up import WarmUp
from ventcalc.gas import atmosphere, combustion, condensation, flue_gas
from ventcalc.gas.flue_gas import Gas
from ventcalc.gas.fuels import fuel
from ventcalc.show import panels, plots
from ventcalc.show.axes import axis, picture, plain, row_of_axes
from ventcalc.show.exercises import Exercise, Slip
from ventcalc.show.panels import steps
from ventcalc.units import Q_, Quantity, show, shown_unit

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
def warming(run: Run, duration: float, count: int = 120) -> WarmUp:
    """The run from light-off, its wall as cold as outdoors, for a duration [s]."""
    return warm_up.warm_up.bare(
        duration, run.inlet, run.outdoor, run.outdoor, run.flow, run.specific_heat, run.inside_film,
        settled(run).outside_film, run.bore, run.length, materials.layers(run.wall), slices=10, steps=count,
    )  # fmt: skip


def draft(run: Run, found: WarmUp) -> np.ndarray:
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


def time_to(run: Run, reached) -> float | None:
    """First time [s] at which ``reached(found)`` holds at a step, or None: by durations that grow tenfold."""
    for duration in (60.0, 600.0, 6000.0, 60000.0):
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


def _trace(species: str, kelvin: float, atm_m: float) -> float:
    """Emissivity of a trace of one gas over a path that holds so much of it [atm m], as the charts are drawn."""
    share = 1e-6
    parts = {"co2": 0.0, "h2o": 0.0, "n2": 1.0 - share, "o2": 0.0} | {species: share}
    return float(gas_radiation.emissivity.bare(Gas(**parts), kelvin, atm_m / share, _ATM))


def _overlap(kelvin: float, co2: float, h2o: float) -> float:
    """What both gases emit less than their sum, at 1 atm, paths in atm m."""
    both, length = co2 + h2o, 3.0
    parts = {"co2": co2 / length, "h2o": h2o / length}
    single = [Gas(**({"co2": 0.0, "h2o": 0.0, "n2": 1.0 - v, "o2": 0.0} | {k: v})) for k, v in parts.items()]
    mixed = Gas(**parts, n2=1.0 - both / length, o2=0.0)
    each = sum(gas_radiation.emissivity.bare(g, kelvin, length, _ATM) for g in single)
    return float(each - gas_radiation.emissivity.bare(mixed, kelvin, length, _ATM))


def _pressed(species: str, kelvin: float) -> float:
    """Emissivity of one gas of the example at its 2 atm over that of a trace of it."""
    share = getattr(_EXAMPLE, species)
    parts = {"co2": 0.0, "h2o": 0.0, "n2": 1.0 - share, "o2": 0.0} | {species: share}
    at_two = gas_radiation.emissivity.bare(Gas(**parts), kelvin, _PATH, 2.0 * _ATM)
    return float(at_two) / _trace(species, kelvin, 2.0 * share * _PATH)


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
    """A metre of a material of 200 mm bore, with flue gas as in a gas boiler's vent: 150 degC, 5 m/s."""
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
    figure = Figure(figsize=(plots.WIDTH, 3.2), layout="constrained")
    for axes, name in zip(figure.subplots(1, 2, sharey=True), (INSULATED, MASONRY), strict=True):
        _draw_wall(axes, Run(wall=name), system)
    return figure


_TONES = ("#d3d8de", "#f1e4cf", "#d3d8de")  # liner, filling, shell; the layers are named as well


def _draw_wall(axes: Axes, run: Run, system: str) -> None:
    parts, found = materials.layers(run.wall), settled(run)
    per_metre = found.coefficient * np.pi * run.bore * (run.inlet - run.outdoor)  # W/m
    temperature, radius = run.inlet - per_metre / (run.inside_film * np.pi * run.bore), run.bore / 2
    places, values, unit = [0.0], [temperature], shown_unit("diameter", system)
    for part, tone in zip(parts, _TONES, strict=False):
        thickness = part.thickness.m_as("m")
        outer = radius + thickness
        temperature -= per_metre * np.log(outer / radius) / (2 * np.pi * part.conductivity.m_as("W/(m*K)"))
        left, right = (Q_(r - run.bore / 2, "m").m_as(unit) for r in (radius, outer))
        axes.axvspan(left, right, fc=tone, ec=plots.GREY, lw=0.6)
        if thickness > 0.01:
            low = Q_(run.outdoor - 33.0, "K").m_as(shown_unit("temperature", system))
            words = part.what.replace(" ", "\n")
            axes.text((left + right) / 2, low, words, ha="center", va="bottom", size=plots.SIZE, color=plots.INK)
        places, values, radius = [*places, outer - run.bore / 2], [*values, temperature], outer
    film = 0.3 * places[-1]  # how wide the films are drawn
    places, values = [-2 * film, -film, *places, places[-1] + film, places[-1] + 2 * film], [
        run.inlet, run.inlet, *values, run.outdoor, run.outdoor,
    ]  # fmt: skip
    degrees = Q_(np.array(values), "K").m_as(shown_unit("temperature", system))
    axes.plot(Q_(np.array(places), "m").m_as(unit), degrees, "o-", color=plots.RUST, lw=1.8, ms=3.5)
    dew = Q_(dew_point(), "K").m_as(shown_unit("temperature", system))
    axes.axhline(dew, color=plots.BLUE, lw=1.0, ls="--")
    axes.text(Q_(-2 * film, "m").m_as(unit), dew, "dew point", va="bottom", size=plots.SIZE, color=plots.BLUE)
    plain(axes, axis("from the inner surface", "diameter", system), axis("temperature", "temperature", system))
    axes.set_ylim(bottom=Q_(run.outdoor - 35.0, "K").m_as(shown_unit("temperature", system)))
    axes.set_title(WORDS[run.wall], size=plots.SIZE)


_STYLES = dict(zip(WALLS, ("-", "-.", "--", ":"), strict=True))


def along_the_run(system: str = "US") -> Figure:
    """Gas and inner wall along the stack, settled, on a winter day, for three walls; and the dew point."""
    figure = Figure(figsize=(plots.WIDTH, 3.2), layout="constrained")
    both, cold = figure.subplots(1, 2, sharey=True), Q_(20.0, "degF").m_as("K")
    degrees, share = shown_unit("temperature", system), np.linspace(0.0, 1.0, 41)
    for name in (STEEL, INSULATED, MASONRY):
        run = Run(wall=name, outdoor=cold)
        found = settled(run)
        x = Q_(share * run.length, "m").m_as(shown_unit("height", system))
        inside = heat_loss.outlet_temperature.bare(run.inlet, run.outdoor, share * found.cooling)
        wall = heat_loss.wall_temperature.bare(inside, run.outdoor, found.coefficient, run.inside_film)
        for axes, values in zip(both, (inside, wall), strict=True):
            line = Q_(values, "K").m_as(degrees)
            axes.plot(x, line, _STYLES[name], color=plots.INK, lw=1.8, label=WORDS[name])
    for axes, words in zip(both, ("gas", "inner wall"), strict=True):
        axes.axhline(Q_(dew_point(), "K").m_as(degrees), color=plots.BLUE, lw=1.0, label="dew point")
        plain(axes, axis("along the stack", "height", system), axis("temperature", "temperature", system))
        axes.set_title(words, size=plots.SIZE)
    _legend_above(figure, both[1])
    return figure


def _legend_above(figure: Figure, axes: Axes) -> None:
    handles, words = axes.get_legend_handles_labels()
    figure.legend(handles, words, loc="outside upper center", ncols=5, fontsize=plots.SIZE, frameon=False,
                  handlelength=1.8, columnspacing=1.2)  # fmt: skip


def warming_up(system: str = "US") -> Figure:
    """Draft and the inner wall at the top against the time since light-off, for four walls."""
    figure = Figure(figsize=(plots.WIDTH, 3.4), layout="constrained")
    both, degrees = figure.subplots(1, 2), shown_unit("temperature", system)
    for name in WALLS:
        run = Run(wall=name)
        curves = [warming(run, duration) for duration in (60.0, 600.0, 6000.0, 60000.0)]
        time = np.concatenate([c.time[12:] for c in curves]) / 60.0
        pull = np.concatenate([draft(run, c)[12:] for c in curves])
        wall = np.concatenate([c.wall[12:, -1] for c in curves])
        style = {"color": plots.INK, "lw": 1.8, "ls": _STYLES[name], "label": WORDS[name]}
        order = np.argsort(time)
        both[0].semilogx(time[order], Q_(pull[order], "Pa").m_as(shown_unit("draft", system)), **style)
        both[1].semilogx(time[order], Q_(wall[order], "K").m_as(degrees), **style)
    both[1].axhline(Q_(dew_point(), "K").m_as(degrees), color=plots.BLUE, lw=1.0, label="dew point")
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
    controls = {
        "wall": panels.choice("Wall", materials.names(), run.wall),
        "minutes": panels.slider("Since light-off", [(duration_text(60 * m), m) for m in MINUTES], 10.0),
        "length": panels.slider("Height", steps("height", system, range(10, 151, 5), range(3, 46)), run.length),
        "flow": panels.slider("Flue gas", flows, run.flow),
        "inlet": panels.slider(
            "Gas enters at", steps("temperature", system, range(120, 601, 10), range(50, 316, 5)), run.inlet
        ),
        "outdoor": panels.slider(
            "Outdoors", steps("temperature", system, range(-40, 106, 5), range(-40, 41, 3)), run.outdoor
        ),
        "wind": panels.slider("Wind", steps("wind", system, range(0, 41, 5), range(0, 19, 2)), run.wind),
    }

    def answer(**values) -> tuple[str, bytes]:
        return explorer_answer(system, **values)

    return panels.Panel(answer, controls)


def explorer_answer(system: str, *, minutes: float, **of_run) -> tuple[str, bytes]:
    """A run settled and some minutes after light-off; ``of_run`` are fields of `Run`."""
    run = replace(Run(), **of_run)
    end, found, last = settled(run), warming(run, 60.0 * minutes, 60), settled_draft(run)
    pull = float(draft(run, found)[-1])
    temperatures = [(found.gas[-1, -1], found.wall[-1, -1]), (end.outlet, end.wall)]
    rows = [
        (when, *(show(Q_(float(t), "K"), system) for t in pair), show(Q_(d, "Pa"), system), _wetness(pair[1]))
        for when, pair, d in zip(
            (f"after {duration_text(60 * minutes)}", "settled"), temperatures, (pull, last), strict=True
        )
    ]
    u = show(Q_(end.coefficient, "W/(m**2*K)"), system, "heat transfer")
    words = (
        f"<p>U {u}, cooling number {end.cooling:.2f}; draft is {pull / last:.0%} of what it will be.</p>"
        if last
        else ""
    )
    numbers = panels.table(("", "gas at the top", "wall at the top", "draft", "wall there"), rows)
    return numbers + words, _explorer_picture(system, run, end, found)


def _wetness(wall: float) -> str:
    return "dry" if wall > dew_point() else "water condenses"


def _explorer_picture(system: str, run: Run, end: Settled, found: WarmUp) -> bytes:
    figure, (left, right) = row_of_axes(2, 3.0)
    degrees, feet = shown_unit("temperature", system), shown_unit("height", system)
    share = found.distance / run.length
    at_rest = heat_loss.outlet_temperature.bare(run.inlet, run.outdoor, share * end.cooling)
    middle = 0.5 * (found.distance[1:] + found.distance[:-1])
    for x, values, style, words in (
        (found.distance, at_rest, "--", "gas, settled"),
        (found.distance, found.gas[-1], "-", "gas, now"),
        (middle, found.wall[-1], ":", "wall, now"),
    ):
        left.plot(Q_(x, "m").m_as(feet), Q_(values, "K").m_as(degrees), style, color=plots.INK, lw=1.8, label=words)
    left.axhline(Q_(dew_point(), "K").m_as(degrees), color=plots.BLUE, lw=1.0, label="dew point")
    plain(left, axis("along the stack", "height", system), axis("temperature", "temperature", system))
    handles, words = left.get_legend_handles_labels()
    figure.legend(handles, words, loc="upper center", ncols=4, fontsize=plots.SIZE, frameon=False, borderaxespad=0.1)
    right.plot(
        found.time / 60.0, Q_(draft(run, found), "Pa").m_as(shown_unit("draft", system)), color=plots.INK, lw=1.8
    )
    right.set_ylim(*((0.0, None) if settled_draft(run) > 0.0 else (None, 0.0)))
    plain(right, "time since light-off, min", axis("theoretical draft", "draft", system))
    return picture(figure)


# --- Questions ------------------------------------------------------------------------------------------


def questions(system: str = "US") -> tuple[Exercise, ...]:
    """Questions of the chapter."""
    return (_outlet(system), _sweating(system), _thin_wall(system), _brick(system))


def _outlet(system: str) -> Exercise:
    u, bore, length = Q_(1.0, "Btu/(hour*ft**2*delta_degF)"), Q_(8.0, "inch"), Q_(30.0, "ft")
    flow, heat = Q_(400.0, "lb/hour"), Q_(0.26, "Btu/(lb*delta_degF)")
    inlet, outdoor = Q_(350.0, "degF"), Q_(20.0, "degF")
    cooling = heat_loss.cooling_number(u, bore, length, flow, heat)
    n, t1, t0 = float(cooling.m_as("")), inlet.m_as("K"), outdoor.m_as("K")
    expected = heat_loss.outlet_temperature(inlet, outdoor, cooling)
    heat_text = f"{heat.m:.2f} Btu/(lb·°F)" if system == "US" else f"{heat.m_as('J/(kg*K)'):.0f} J/(kg·K)"
    said = [show(u, system, "heat transfer"), show(bore, system, "diameter"), show(length, system)]
    said += [show(q, system) for q in (flow, inlet, outdoor)]
    return Exercise(
        question=(
            f"A vent of {said[1]} bore runs {said[2]} outdoors with U = {said[0]}. {said[3]} of gas, specific heat "
            f"{heat_text}, enter at {said[4]}; outdoors it is {said[5]}. At what temperature does the gas leave?"
        ),
        expected=expected,
        tolerance=Q_(4.0, "delta_degF"),
        hints=("N = U pi D L / (m cp): first the surface, then the number.", "T = Ta + (Tin - Ta) exp(-N)."),
        solution=f"N = {n:.3f}, and Ta + (Tin - Ta) exp(-N) = {show(expected, system)}.",
        slips=(
            Slip(
                heat_loss.mean_temperature(inlet, outdoor, cooling), "That is the mean along the run; asked is its end."
            ),
            Slip(Q_(t1 - n * (t1 - t0), "K"), "Heat loss falls as the gas cools: exp(-N), not 1 - N."),
            Slip(Q_(t1 * np.exp(-n), "K"), "The gas cools towards the outdoor temperature, not towards zero."),
            Slip(
                heat_loss.outlet_temperature(inlet, outdoor, cooling / 2),
                "The surface of a pipe is pi D L; the radius will not do.",
            ),
        ),
        example="250 degF" if system == "US" else "120 degC",
    )


def _sweating(system: str) -> Exercise:
    u, film = (Q_(v, "Btu/(hour*ft**2*delta_degF)") for v in (1.2, 2.0))
    inside, outdoor = Q_(220.0, "degF"), Q_(20.0, "degF")
    expected = heat_loss.wall_temperature(inside, outdoor, u, film)
    shown = [show(q, system, "heat transfer") for q in (u, film)]
    ratio, hot, cold = float((u / film).m_as("")), inside.m_as("K"), outdoor.m_as("K")
    return Exercise(
        question=(
            f"At the top of a bare stack the gas is at {show(inside, system)}, outdoors it is "
            f"{show(outdoor, system)}. The inside "
            f"film is {shown[1]}, U is {shown[0]}. How warm is the inner wall there? (And is it above a dew point of "
            f"{show(Q_(129.0, 'degF'), system)}?)"
        ),
        expected=expected,
        tolerance=Q_(3.0, "delta_degF"),
        hints=("The same heat passes the inside film and the whole wall.", "hi (Tg - Tw) = U (Tg - Ta)."),
        solution=(
            f"Tw = Tg - (U/hi)(Tg - Ta) = {show(expected, system)}: below the dew point, though the gas is far above "
            "it. Water runs "
            "down the wall."
        ),
        slips=(
            Slip(
                Q_(cold + ratio * (hot - cold), "K"),
                "That is counted from the wrong side: U/hi of the difference lies in the film.",
            ),
            Slip(Q_(0.5 * (hot + cold), "K"), "The mean is right only for films alike and no wall between them."),
            Slip(inside, "That is the gas. The wall is colder by what the film holds back."),
        ),
        example="150 degF" if system == "US" else "65 degC",
    )


def _thin_wall(system: str) -> Exercise:
    density, heat, sheet = Q_(7900.0, "kg/m**3"), Q_(460.0, "J/(kg*K)"), Q_(0.6, "mm")
    inside, outside = Q_(12.0, "W/(m**2*K)"), Q_(20.0, "W/(m**2*K)")
    hot, cold = Q_(350.0, "degF"), Q_(20.0, "degF")
    held = density * sheet * heat
    end = _between(cold, hot, float((inside / (inside + outside)).m_as("")))

    def after(tau: Quantity) -> Quantity:
        return _between(cold, end, 1.0 - float(np.exp(-(Q_(60.0, "s") / tau).m_as(""))))

    tau = held / (inside + outside)
    expected, us = after(tau), system == "US"
    films = [show(h, system, "heat transfer") for h in (inside, outside)]
    stores = (
        f"{held.m_as('Btu/(ft**2*delta_degF)'):.3f} Btu/(ft²·°F)" if us else f"{held.m_as('kJ/(m**2*K)'):.2f} kJ/(m²·K)"
    )
    return Exercise(
        question=(
            f"A sheet of thin steel stands between gas at {show(hot, system)} and air at {show(cold, system)}. Its "
            "inside film is "
            f"{films[0]}, its outside film {films[1]}, and it stores {stores}. At light-off it is as cold as the air. "
            "How warm is it "
            "one minute later?"
        ),
        expected=expected,
        tolerance=Q_(4.0, "delta_degF"),
        hints=(
            "First where it ends: (hi Tg + ho Ta) / (hi + ho). Then how fast: tau = what it stores over (hi + ho).",
            "T = Tend + (Tstart - Tend) exp(-t / tau).",
        ),
        solution=(
            f"It ends at {show(end, system)}, with tau = {tau.m_as('s'):.0f} s: {show(expected, system)} after a "
            "minute."
        ),
        slips=(
            Slip(end, "That is where it ends; a minute is less than one time constant."),
            Slip(after(held / inside), "Both films pull at the wall's temperature: tau has their sum below."),
            Slip(after(held / outside), "Both films pull at the wall's temperature: tau has their sum below."),
            Slip(
                _between(end, cold, 1.0 - float(np.exp(-(Q_(60.0, "s") / tau).m_as("")))),
                "That cools from where it ends; it starts as cold as the air.",
            ),
        ),
        example="110 degF" if us else "45 degC",
    )


def _between(low: Quantity, high: Quantity, share: float) -> Quantity:
    """The temperature that lies this share of the way from one to another."""
    return Q_(float(low.m_as("K") + share * (high.m_as("K") - low.m_as("K"))), "K")


def _brick(system: str) -> Exercise:
    mass, heat, start = Q_(2000.0, "kg"), Q_(835.0, "J/(kg*K)"), Q_(41.0, "degF")
    flow, cp, drop = Q_(500.0, "lb/hour"), Q_(1110.0, "J/(kg*K)"), Q_(108.0, "delta_degF")
    rate = (flow * cp * Q_(drop.m_as("delta_degC"), "K")).to("W")
    rise = float((rate * Q_(2.0, "hour") / (mass * heat)).m_as("K"))
    expected, us = Q_(float(start.m_as("K")) + rise, "K"), system == "US"
    weight = f"{mass.m_as('lb'):,.0f} lb" if us else f"{mass.m:,.0f} kg"
    heats = [f"{q.m_as('Btu/(lb*delta_degF)'):.3f} Btu/(lb·°F)" if us else f"{q.m:.0f} J/(kg·K)" for q in (heat, cp)]

    def risen(factor: float) -> Quantity:
        return Q_(float(start.m_as("K")) + factor * rise, "K")

    return Exercise(
        question=(
            f"The brick of a masonry stack weighs {weight}, holds {heats[0]} and starts at {show(start, system)}. "
            f"{show(flow, system)} of "
            f"flue gas, {heats[1]}, cool by {show(drop, system)} in it. How warm is the brick in the mean after two "
            "hours, if all of "
            "that heat stays in it?"
        ),
        expected=expected,
        tolerance=Q_(2.0, "delta_degF"),
        hints=(
            "What the gas gives: m' cp dT, for two hours.",
            "What the brick does with it: divide by its mass and its specific heat.",
        ),
        solution=(
            f"{rate.m / 1e3:.2f} kW for two hours are {rate.m * 7.2e-3:.1f} MJ ({rate.m * 7200 / 1055.06:,.0f} Btu); "
            f"over {weight} x "
            f"{heats[0]} that is a rise of {show(Q_(rise, 'delta_degC'), system)}: {show(expected, system)}. After "
            "two hours of fire!"
        ),
        slips=(
            Slip(risen(0.5), "That is after one hour."),
            Slip(risen(float((heat / cp).m_as(""))), "Gas and brick do not hold the same heat per weight."),
            Slip(Q_(rise * 1.8, "degF") if us else Q_(rise, "degC"), "That is the rise; add where the brick starts."),
        ),
        example="110 degF" if us else "45 degC",
    )
