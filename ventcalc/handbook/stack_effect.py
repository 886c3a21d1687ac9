"""Stack effect: the chapter's questions, live controls, checks and figures."""

from functools import partial

import numpy as np
from IPython.display import HTML
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ventcalc import checked, tables
from ventcalc.flow import friction, gas_radiation, heat_loss, stack_effect, steam_book_stack
from ventcalc.gas import atmosphere, combustion, condensation, flue_gas
from ventcalc.gas.flue_gas import Gas
from ventcalc.gas.fuels import fuel
from ventcalc.show import panels, plots
from ventcalc.show.axes import axis, legend, mark_now, one_axes, picture, plain
from ventcalc.show.exercises import Exercise
from ventcalc.show.panels import steps
from ventcalc.show.prediction import Prediction
from ventcalc.show.prediction import load as predict
from ventcalc.show.questions import load
from ventcalc.show.writing import Writing
from ventcalc.show.writing import load as load_writing
from ventcalc.units import GRAVITY, Q_, Quantity, show, shown_unit

STACK, ATM = Q_(40.0, "ft"), Q_(1.0, "atm")
COLD_DAY, MILD_DAY, HOT_DAY = Q_(20.0, "degF"), Q_(60.0, "degF"), Q_(95.0, "degF")
HOT_GAS, ROOM = Q_(300.0, "degF"), Q_(68.0, "degF")
EXCESS_AIR = 0.3
CONTENTS = ("natural gas", "propane", "no. 2 oil", "room air")  # what may stand in a stack; the first three as burnt


# --- Draft by three forms -------------------------------------------------------------------------------


def contents(name: str, temperature, pressure) -> Gas:
    """What stands in a stack: flue gas of a fuel at 30 % excess air, or dry room air; K and Pa, numbers or arrays.

    Below its dew point the flue gas is saturated and the rest has drained away.
    """
    if name == "room air":
        return Gas.dry_air()
    return condensation.saturated.bare(combustion.products(fuel(name), EXCESS_AIR).gas, temperature, pressure)[0]


def drafts(name: str, height: float, gas, outdoor, pressure: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Draft [Pa] by the full form, by 0.2554 and by 0.03413; m, K, K, Pa absolute, temperatures may be arrays."""
    inside = flue_gas.density.bare(contents(name, gas, pressure), gas, pressure)
    full = stack_effect.theoretical_draft.bare(height, atmosphere.air_density.bare(outdoor, pressure), inside)
    short = (
        f.bare(height, pressure, outdoor, gas) for f in (stack_effect.handbook_draft, stack_effect.handbook_draft_si)
    )
    return (full, *short)


# --- Checks ---------------------------------------------------------------------------------------------


def _inputs(key: str) -> dict[str, Quantity]:
    """Inputs of a row of draft_checks, as quantities; absolute temperatures of the book with its own 461."""
    units = {"height_ft": "ft", "pressure_psia": "psi", "height_m": "m", "barometer_Pa": "Pa", "ambient_K": "K",
             "gas_K": "K", "altitude_ft": "ft"}  # fmt: skip
    row = tables.row("draft_checks", key)
    found = {column: Q_(float(row[column]), unit) for column, unit in units.items() if row[column]}
    for column in ("ambient_F", "gas_F"):
        if row[column]:
            found[column] = Q_(float(row[column]) + 461.0, "degR")
    return found


def formula_24(key: str) -> Quantity:
    """The steam book's draft for a row of draft_checks: a foot of height and 14.7 psi where the row has none."""
    given = {"height_ft": Q_(1.0, "ft"), "pressure_psia": Q_(14.7, "psi")} | _inputs(key)
    return stack_effect.steam_book_draft(*(given[k] for k in ("height_ft", "pressure_psia", "ambient_F", "gas_F")))


def _correction(key: str) -> Quantity:
    """What another gas temperature changes against the 500 degrees Fahrenheit of the book's Table 53."""
    given = _inputs(key)
    base = stack_effect.steam_book_draft(given["height_ft"], Q_(14.7, "psi"), given["ambient_F"], Q_(961.0, "degR"))
    return formula_24(key) - base


def _barometer(altitude: str) -> Quantity:
    """The barometer that the book's Table 54 prints at an altitude."""
    rows = tables.read("draft_checks")
    return next(Q_(float(r["value"]), "inHg") for r in rows if r["altitude_ft"] == altitude and r["unit"] == "inHg")


def _altitude(key: str) -> Quantity:
    """Table 54: the barometer from the altitude, the two factors from the printed barometer."""
    row = tables.row("draft_checks", key)
    if row["unit"] == "inHg":
        return steam_book_stack.steam_book_barometer(_inputs(key)["altitude_ft"])
    height, diameter = steam_book_stack.steam_book_altitude_factors(_barometer(row["altitude_ft"]))
    return height if row["quantity"].startswith("ratio") else diameter


def _keys(first: int, last: int) -> list[str]:
    return [row["id"] for row in tables.read("draft_checks") if first <= int(row["id"][1:]) <= last]


def _handbook() -> dict[str, Quantity | float]:
    """The handbook's constants from the steam book's and from g and dry air, and a draft in SI."""
    one = stack_effect.steam_book_draft(Q_(1.0, "ft"), Q_(1.0, "inHg"), Q_(500.0, "degR"), Q_(1000.0, "degR"))
    sheet = _inputs("D182")
    si = (sheet[k] for k in ("height_m", "barometer_Pa", "ambient_K", "gas_K"))
    return {
        "D180": one.m_as("inH2O") / (1 / 500.0 - 1 / 1000.0),
        "D181": GRAVITY / Gas.dry_air().gas_constant,
        "D182": stack_effect.handbook_draft_si(*si),
    }


def draft_checks() -> tuple[checked.Check, ...]:
    """Theoretical draft of the steam book, its table of K and its corrections, and the handbook's forms."""
    densities = (Q_(0.0761, "lb/ft**3"), Q_(0.0414, "lb/ft**3"))  # as printed in the row's note
    ours = (
        {key: formula_24(key) for key in _keys(1, 2)}
        | {"D003": stack_effect.theoretical_draft(Q_(100.0, "ft"), *densities)}
        | {key: formula_24(key) / Q_(1.0, "ft") for key in _keys(10, 18)}
        | {key: _correction(key) for key in _keys(90, 97)}
        | _handbook()
    )
    return checked.compare("draft_checks", ours)


def altitude_checks() -> tuple[checked.Check, ...]:
    """The steam book's barometer, and what it multiplies height and diameter by, from sea level to 10,000 ft."""
    return checked.compare("draft_checks", {key: _altitude(key) for key in _keys(110, 142)})


def example_checks() -> tuple[checked.Check, ...]:
    """Worked examples of three public exercise sheets; what is given stands in the table's column ``given``."""
    air, sheet = Q_(1.2, "kg/m**3"), flue_gas.density(Gas.dry_air(), Q_(1253.0, "K"), ATM)
    light, heavy = (stack_effect.theoretical_draft(Q_(1.0, "m"), air, Q_(g, "kg/m**3")) for g in (0.79, 0.91))
    low, high = 65.0 * heavy, 100.0 * heavy
    outdoor, hot = (flue_gas.density(Gas.dry_air(), Q_(t, "K"), ATM) for t in (293.0, 563.0))
    gas = hot * 23.0 / 22.0  # coal: all the fuel has joined the air, in the same volume
    draft = Q_(19.0, "mm") * Q_(1000.0, "kg/m**3") * Q_(GRAVITY, "m/s**2")
    velocity = float(((2.0 * draft / gas) ** 0.5).m_as("m/s"))
    ours = {
        "W11a": sheet,
        "W11b": Q_(1.912, "kg/s") / sheet,
        "W12a": float((Q_(0.23, "kPa") / light).m_as("")),
        "W12b": low,
        "W12c": high,
        "W12d": 0.5 * (low + high),
        "W13a": float((draft / stack_effect.theoretical_draft(Q_(1.0, "m"), outdoor, gas)).m_as("")),
        "W13b": gas,
        "W13c": float((draft / (gas * Q_(GRAVITY, "m/s**2"))).m_as("m")),
        "W13d": velocity,
        "W13e": velocity * float(gas.m_as("kg/m**3")) * np.pi / 4.0 * 1.8**2,
    }
    return checked.compare("stack_effect_checks", ours)


def checks() -> tuple[checked.Check, ...]:
    """All rows that the chapter stands on."""
    return draft_checks() + altitude_checks() + example_checks()


# --- Figures --------------------------------------------------------------------------------------------


def wet_gas(system: str = "US") -> Figure:
    """Full form over the handbook's 0.2554 against the gas temperature, for three fuels; outdoors at freezing."""
    kelvin = np.linspace(333.15, 593.15, 60)  # 60 to 320 degC: above the dew points, so nothing condenses
    figure, axes = one_axes()
    for name, style in zip(CONTENTS[:3], ("-", "--", ":"), strict=True):
        full, short, _ = drafts(name, 1.0, kelvin, 273.15, ATM.m_as("Pa"))
        x = Q_(kelvin, "K").m_as(shown_unit("temperature", system))
        axes.plot(x, full / short, style, color=plots.INK, lw=1.8, label=name)
    axes.axhline(1.0, color=plots.GREY, lw=0.8)
    plain(axes, axis("mean gas temperature", "temperature", system), "full form / 0.2554 form (ratio)")
    legend(axes)
    return figure


def wet_table(system: str = "US") -> HTML:
    """Full form over the 0.2554 form where all water stays vapor, and where what must condense has drained away."""
    rows, freezing = [], Q_(0.0, "degC")
    wet = combustion.products(fuel("natural gas"), EXCESS_AIR).gas
    for celsius in (50.0, 150.0, 250.0):
        at = Q_(celsius, "degC")
        short = stack_effect.handbook_draft(STACK, ATM, freezing, at)
        ratios = []
        for inside in (wet, contents("natural gas", at.m_as("K"), ATM.m_as("Pa"))):
            densities = atmosphere.air_density(freezing, ATM), flue_gas.density(inside, at, ATM)
            ratios.append(f"{float((stack_effect.theoretical_draft(STACK, *densities) / short).m_as('')):.3f}")
        rows.append((show(at, system), show(short, system), *ratios))
    header = (
        "mean gas, outdoors at freezing",
        "0.2554 form",
        "full form over it, all water as vapor",
        "condensate drained",
    )
    return HTML(panels.table(header, rows))


# --- Taller is not always more --------------------------------------------------------------------------

BARE_PIPE, BARE_FLOW, BARE_GAS = Q_(6.0, "inch"), Q_(600.0, "lb/hour"), Q_(350.0, "degF")
ROUGHNESS = Q_(1.0, "mm")
WALLS = {"bare pipe": 0.0, "insulated pipe": 0.5}  # wall resistance, m2 K/W; 0.5 is 25 mm of mineral wool


def net_draft(heights: np.ndarray, wall_resistance: float) -> tuple[np.ndarray, np.ndarray]:
    """Draft less friction and exit loss [Pa], and gas temperature at the top [K], of stacks of these heights [m].

    A 6 in. pipe outdoors in wind on a mild day, with the flue gas of a natural gas burner. Cooling and friction as in
    the chapters on heat loss and friction; latent heat is left out.
    """
    gas, inlet, outdoor = (
        combustion.products(fuel("natural gas"), EXCESS_AIR).gas,
        BARE_GAS.m_as("K"),
        MILD_DAY.m_as("K"),
    )
    bore, flow, pressure = BARE_PIPE.m_as("m"), BARE_FLOW.m_as("kg/s"), ATM.m_as("Pa")
    viscosity, conductivity = flue_gas.transport.bare(gas, inlet)
    reynolds = friction.reynolds.bare(flow, bore, viscosity)
    nusselt = heat_loss.nusselt.bare(reynolds, flue_gas.prandtl.bare(gas, inlet), ROUGHNESS.m_as("m") / bore)
    halfway = 0.5 * (inlet + outdoor)
    film = nusselt * conductivity / bore + gas_radiation.radiation_film.bare(gas, inlet, halfway, bore, pressure)
    u = heat_loss.heat_transfer_coefficient.bare(film, wall_resistance, heat_loss.OUTDOOR_FILM)
    cooling = heat_loss.cooling_number.bare(u, bore, heights, flow, flue_gas.specific_heat.bare(gas, inlet))
    top = heat_loss.outlet_temperature.bare(inlet, outdoor, cooling)
    mean = stack_effect.mean_gas_density.bare(pressure, gas.gas_constant, inlet, top, outdoor)
    draft = stack_effect.theoretical_draft.bare(heights, atmosphere.air_density.bare(outdoor, pressure), mean)
    loss = friction.pressure_loss.bare(flow, mean, bore, heights, ROUGHNESS.m_as("m"), viscosity)
    thin = flue_gas.density.bare(gas, top, pressure)
    leaves = friction.velocity_head.bare(thin, friction.velocity.bare(flow, thin, bore))  # goes out at the top
    return draft - loss - leaves, top


HEIGHTS = np.arange(2.0, 61.0) * 0.6096  # m: 4 to 120 ft in steps of 2 ft


def best_height(wall: str) -> tuple[Quantity, Quantity]:
    """Height and net draft where one of `WALLS` pulls most, among `HEIGHTS`."""
    net, _ = net_draft(HEIGHTS, WALLS[wall])
    return Q_(float(HEIGHTS[net.argmax()]), "m"), Q_(float(net.max()), "Pa")


def best_heights(system: str = "US") -> str:
    """Where each of `WALLS` pulls most, and how hot its gas leaves there."""
    told = []
    for wall, resistance in WALLS.items():
        best, most = best_height(wall)
        _, top = net_draft(best.m_as("m"), resistance)
        last = " (the tallest tried)" if best.m_as("m") >= HEIGHTS[-1] else ""
        leaves = show(Q_(float(top), "K"), system)
        told.append(f"{wall}: pulls most at {show(best, system)}{last}, {show(most, system)}; gas leaves at {leaves}")
    return "\n".join(told)


def taller(system: str = "US") -> Figure:
    """Net draft against height for a bare and an insulated pipe; the bare one's best height is marked."""
    (figure, axes), unit = one_axes(), shown_unit("draft", system)
    x = Q_(HEIGHTS, "m").m_as(shown_unit("height", system))
    for name, style in zip(WALLS, ("-", "--"), strict=True):
        axes.plot(
            x, Q_(net_draft(HEIGHTS, WALLS[name])[0], "Pa").m_as(unit), style, color=plots.INK, lw=1.8, label=name
        )
    height, most = best_height("bare pipe")
    axes.plot(
        height.m_as(shown_unit("height", system)), most.m_as(unit), "o", color=plots.RUST, label="most that it can pull"
    )
    axes.axhline(0.0, color=plots.GREY, lw=0.8)
    plain(axes, axis("height of the stack", "height", system), axis("draft less losses", "draft", system))
    legend(axes)
    return figure


# --- Live controls --------------------------------------------------------------------------------------


def explorer(system: str = "US") -> panels.Panel:
    """Controls of a stack: height, what stands in it, gas and outdoor temperature, altitude."""
    heights = steps("height", system, range(10, 201, 5), np.arange(3.0, 61.0, 1.5))
    gas = steps("temperature", system, range(40, 601, 10), range(5, 316, 5))
    outdoors = steps("temperature", system, range(-40, 111, 5), range(-40, 44, 3))
    altitudes = steps("altitude", system, range(0, 10001, 500), range(0, 3001, 150))

    controls = {
        "height": panels.slider("Height", heights, STACK.m_as("m")),
        "name": panels.choice("Stack full of", [(_words(n), n) for n in CONTENTS], CONTENTS[0]),
        "gas": panels.slider("Mean temperature", gas, HOT_GAS.m_as("K")),
        "outdoor": panels.slider("Outdoors", outdoors, COLD_DAY.m_as("K")),
        "altitude": panels.slider("Altitude", altitudes, 0.0),
    }
    return panels.Panel(partial(explorer_answer, system), controls)


def _words(name: str) -> str:
    return name if name == "room air" else f"flue gas of {name}"


def explorer_answer(
    system: str, *, height: float, name: str, gas: float, outdoor: float, altitude: float
) -> tuple[str, bytes]:
    """Draft by three forms, what it does, and the draft over all weathers; m, K, K, m."""
    pressure = float(atmosphere.standard_pressure.bare(altitude))
    found = [float(d) for d in drafts(name, height, gas, outdoor, pressure)]
    forms = ("full: g H (ρo - ρg)", "0.2554 B H (1/To - 1/Tm)", "0.03413 B H (1/To - 1/Tm)")
    rows = [
        (form, show(Q_(d, "Pa"), system), f"{d / found[0]:.3f}" if found[0] else "-")
        for form, d in zip(forms, found, strict=True)
    ]
    verdict = "The column rises: it pulls." if found[0] > 0.0 else "The column falls: a downdraft into the building."
    barometer = show(Q_(pressure, "Pa"), system, "barometric pressure")
    words = f"<p><b>{verdict}</b> Barometer {barometer}. Positive pulls.</p>"
    return panels.table(("form", "theoretical draft", "over the full form"), rows) + words, _picture(
        system, height, name, gas, outdoor, pressure
    )


def _picture(system: str, height: float, name: str, gas: float, outdoor: float, pressure: float) -> bytes:
    figure, now = Figure((plots.WIDTH, 3.5)), float(drafts(name, height, gas, outdoor, pressure)[0])
    _draw_stack(figure.add_axes((0.0, 0.0, 0.36, 1.0)), system, height, gas, outdoor, now)
    _draw_weather(figure.add_axes((0.48, 0.16, 0.50, 0.76)), system, height, name, gas, pressure)
    axes, unit = figure.axes[1], shown_unit("draft", system)
    mark_now(axes, Q_(outdoor, "K").m_as(shown_unit("temperature", system)), Q_(now, "Pa").m_as(unit))
    legend(axes, loc="upper right")
    return picture(figure)


TALLEST = Q_(
    200.0, "ft"
)  # that the controls offer; drawn heights go by their root, so that a low stack holds its words


def _draw_stack(axes: Axes, system: str, height: float, gas: float, outdoor: float, draft: float) -> None:
    """The stack with its burner, beside the column of outdoor air that it is weighed against."""
    top = 0.12 + 0.68 * max(height / TALLEST.m_as("m"), 0.12) ** 0.5
    axes.set(xlim=(0.0, 1.0), ylim=(0.0, 1.0))
    axes.axis("off")
    axes.plot([0.0, 1.0], [0.12, 0.12], color=plots.INK, lw=1.2)
    axes.fill_between([0.22, 0.40], 0.12, top, fc="#fbe9dd", ec=plots.RUST, lw=1.4)
    axes.fill_between([0.66, 0.84], 0.12, top, fc="none", ec=plots.BLUE, lw=1.0, ls="--", hatch="....", alpha=0.55)
    axes.fill_between([0.02, 0.22], 0.12, 0.24, fc=plots.PALE, ec=plots.INK, lw=1.2)
    for x, temperature, color in ((0.31, gas, plots.RUST), (0.75, outdoor, plots.BLUE)):
        words = show(Q_(temperature, "K"), system)
        box = {"fc": "white", "ec": "none", "pad": 1.0}
        at = 0.5 * (0.12 + top)
        axes.text(x, at, words, rotation=90, ha="center", va="center", color=color, size=plots.SIZE, bbox=box)
    axes.annotate("", (0.53, top), (0.53, 0.12), arrowprops={"arrowstyle": "<->", "color": plots.INK})
    axes.text(0.53, top + 0.02, f"H {show(Q_(height, 'm'), system)}", size=plots.SIZE, ha="center", color=plots.INK)
    start, end = (top + 0.01, top + 0.13) if draft > 0.0 else (top + 0.13, top + 0.01)
    axes.annotate("", (0.31, end), (0.31, start), arrowprops={"arrowstyle": "-|>", "color": plots.RUST, "lw": 2})
    for x, words in ((0.25, "burner, stack"), (0.75, "outdoors")):
        axes.text(x, 0.03, words, ha="center", size=plots.SIZE, color=plots.INK)


def _draw_weather(axes: Axes, system: str, height: float, name: str, gas: float, pressure: float) -> None:
    """The draft of the stack over all weathers."""
    weather = np.linspace(233.15, 316.15, 84)
    full, short, _ = (
        Q_(d, "Pa").m_as(shown_unit("draft", system)) for d in drafts(name, height, gas, weather, pressure)
    )
    x = Q_(weather, "K").m_as(shown_unit("temperature", system))
    axes.plot(x, full, "-", color=plots.INK, lw=1.8, label="full form")
    axes.plot(x, short, "--", color=plots.GREY, lw=1.4, label="0.2554 form")
    axes.axhline(0.0, color=plots.INK, lw=0.8)
    falls = full < 0.0
    if falls.any():
        axes.fill_between(x, full, 0.0, where=falls, fc="none", ec=plots.BLUE, lw=0, hatch="////", label="it falls")
    plain(axes, axis("outdoors", "temperature", system), axis("theoretical draft", "draft", system))


# --- Prediction, and what is to be written --------------------------------------------------------------


def prediction(system: str = "US") -> Prediction:
    """What the reader expects of the stack in July."""
    return predict("stack_effect", july, system)


def july(winter: Quantity, summer: Quantity, inside: Quantity) -> dict[str, Quantity | float]:
    """What a stack full of cool air does on a hot day, beside what it did when it was hot and the day cold."""
    height, pressure = STACK.m_as("m"), ATM.m_as("Pa")
    hot, cold = HOT_GAS.m_as("K"), winter.m_as("K")
    january = float(drafts("natural gas", height, hot, cold, pressure)[0])
    now = float(drafts("room air", height, inside.m_as("K"), summer.m_as("K"), pressure)[0])
    still = abs(now) < STILL * january
    return {
        "right": 1 if still else 0 if now > 0.0 else 2,
        "figure": Q_(now, "Pa"),
        "january": Q_(january, "Pa"),
        "share": now / january,
    }


STILL = 0.01  # of the winter's draft: less is called none


def writing(system: str = "US") -> Writing:
    """The handbook's form of the draft, to be written by the reader."""
    return load_writing("stack_effect", short_form, system)


def short_form(
    height: Quantity, barometer: Quantity, outdoor: Quantity, gas: Quantity, system: str
) -> dict[str, Quantity]:
    """The handbook's draft, and what it becomes by the slips that are made with it."""
    us = system == "US"
    answer = (stack_effect.handbook_draft if us else stack_effect.handbook_draft_si)(height, barometer, outdoor, gas)
    degrees, absolute, pressure = ("degF", "degR", "inHg") if us else ("degC", "K", "Pa")
    right = 1.0 / outdoor.m_as(absolute) - 1.0 / gas.m_as(absolute)
    return {
        "answer": answer,
        "not_absolute": answer * ((1.0 / outdoor.m_as(degrees) - 1.0 / gas.m_as(degrees)) / right),
        "upside_down": -answer,
        "inverted_difference": answer * (1.0 / (outdoor.m_as(absolute) - gas.m_as(absolute)) / right),
        "no_barometer": answer / barometer.m_as(pressure),
    }


# --- Questions ------------------------------------------------------------------------------------------


def questions(system: str = "US", seed: int | None = None) -> tuple[Exercise, ...]:
    """Questions of the chapter, with its own figures or those that ``seed`` draws."""
    return load("stack_effect", (needed_height, mountain, summer_night, condensing), system, seed)


def needed_height(wanted: Quantity, outdoor: Quantity, gas: Quantity, system: str) -> dict[str, Quantity]:
    """Height of a column of gas that pulls so much."""
    height = Q_(float((wanted / stack_effect.theoretical_draft(Q_(1.0, "m"), outdoor, gas)).m_as("")), "m")
    lighter = outdoor - gas
    return {
        "answer": height,
        # In. w.c. over lb/ft³, taken for feet; or pascals over kg/m³, taken for meters.
        "unit_forgotten": Q_(wanted.m_as("inH2O") / lighter.m_as("lb/ft**3"), "ft")
        if system == "US"
        else height * GRAVITY,
        "weightless_gas": height * float((lighter / outdoor).m_as("")),
        "over_gas": height * float((lighter / gas).m_as("")),
    }


def mountain(altitude: Quantity, at_sea: Quantity) -> dict[str, Quantity | float]:
    """Draft of a stack in thin air."""
    barometer = atmosphere.standard_pressure(altitude)
    ratio = float((barometer / atmosphere.standard_pressure(Q_(0.0, "ft"))).m_as(""))
    return {
        "answer": ratio * at_sea,
        "barometer": barometer,
        "ratio": ratio,
        "unchanged": at_sea,
        "upside_down": at_sea / ratio,
        "squared": ratio**2 * at_sea,
    }


def summer_night(height: Quantity, inside: Quantity, outdoor: Quantity) -> dict[str, Quantity]:
    """Pressure at the foot of a cool column."""
    cool = flue_gas.density(Gas.dry_air(), inside, ATM)
    pull = stack_effect.theoretical_draft(height, atmosphere.air_density(outdoor, ATM), cool)
    return {"answer": -pull, "wrong_sign": pull, "twice": -2.0 * pull}


def condensing(gas: Quantity, outdoor: Quantity) -> dict[str, Quantity | float]:
    """What the wetness of flue gas adds to its draft."""
    full, short, _ = drafts("natural gas", 1.0, gas.m_as("K"), outdoor.m_as("K"), ATM.m_as("Pa"))
    mass, air = combustion.products(fuel("natural gas"), EXCESS_AIR).gas.molar_mass, Gas.dry_air().molar_mass
    cold, hot = outdoor.m_as("K"), gas.m_as("K")
    by_columns = (air / cold - mass / hot) / (air / cold - air / hot)
    return {
        "answer": Q_(float(full / short - 1.0), "").to("percent"),
        "by_columns": Q_(by_columns - 1.0, ""),
        "constant": Q_(by_columns * float(short / full) - 1.0, ""),
        "mass": 1e3 * mass,
        "air": 1e3 * air,
        "lighter": Q_(float(1.0 - mass / air), ""),
        "below": Q_(float(1.0 - short / full), ""),
    }
