"""Appliance categories: the chapter's questions, live controls, checks and figures."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from textwrap import fill

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from scipy.optimize import brentq

from ventcalc import checked, tables
from ventcalc.flow import materials
from ventcalc.gas import appliance, combustion, condensation, stack_loss
from ventcalc.gas.appliance import CATEGORIES, Category
from ventcalc.gas.fuels import fuel
from ventcalc.show import panels, plots
from ventcalc.show.axes import axis, legend, one_axes, picture, plain, row_of_axes
from ventcalc.show.exercises import Exercise
from ventcalc.show.panels import steps
from ventcalc.show.questions import load
from ventcalc.units import Q_, Quantity, show, shown_unit, unit_text
from ventcalc.words import say

ATM, ROOM = Q_(1.0, "atm"), Q_(70.0, "degF")
FUELS = ("natural gas", "propane", "no. 2 oil")


# --- One appliance by both signs ------------------------------------------------------------------------


@dataclass(frozen=True)
class Case:
    """An appliance as its vent sees it: outlet pressure (gauge), flue gas temperature, excess air, fuel.

    ``plate``: the category that it is listed in, where that is known; it holds on whatever vent it stands.
    """

    name: str
    pressure: Quantity
    flue: Quantity
    excess_air: float
    fuel: str = "natural gas"
    plate: str = ""

    @property
    def dew_point(self) -> Quantity:
        """Water dew point of the flue gas as it is made."""
        return condensation.dew_point(combustion.products(fuel(self.fuel), self.excess_air).gas, ATM)

    @property
    def margin(self) -> Quantity:
        """Flue temperature above the dew point, a difference."""
        return Q_(float(self.flue.m_as("K") - self.dew_point.m_as("K")), "delta_degC")

    @property
    def loss(self) -> Quantity:
        """Flue loss of the heat input (HHV), for a flue gas that is still dry."""
        return stack_loss.stack_loss(fuel(self.fuel), self.excess_air, self.flue, ROOM)

    @property
    def by_loss(self) -> Category | None:
        """The category that flue loss indicates; None where the fuel is not gas."""
        return appliance.classify(self.pressure, flue_loss=self.loss) if self.burns_gas else None

    @property
    def by_margin(self) -> Category | None:
        """The category that the margin above the dew point indicates; None where the fuel is not gas."""
        return appliance.classify(self.pressure, margin=self.margin) if self.burns_gas else None

    @property
    def burns_gas(self) -> bool:
        """Whether it can have a category: they are of gas appliances (IFGC definitions; K001 to K004)."""
        return fuel(self.fuel).kind == "gas"

    @property
    def wets(self) -> bool:
        """Whether water is to be expected in its vent: either rule says so, or its plate does."""
        named = (self.by_margin, self.by_loss, CATEGORIES.get(self.plate))
        by_category = any(c is not None and c.condensing for c in named)
        return by_category or float(self.margin.m_as("delta_degC")) < appliance.CONDENSING_MARGIN


# Invented appliances with their plates: one for each field of the picture, the third where its plate does not
# stand, and the last between the two rules: the boiler of the caller.
CASES = (
    Case("water heater with a draft hood", Q_(-0.02, "inH2O"), Q_(380.0, "degF"), 0.60, plate="I"),
    Case("boiler with an inducer fan", Q_(-0.06, "inH2O"), Q_(370.0, "degF"), 0.40, plate="I"),
    Case("condensing boiler on a fan-assisted stack", Q_(-0.05, "inH2O"), Q_(125.0, "degF"), 0.30, plate="IV"),
    Case("unit heater through a side wall", Q_(0.15, "inH2O"), Q_(400.0, "degF"), 0.45, plate="III"),
    Case("condensing boiler", Q_(0.40, "inH2O"), Q_(130.0, "degF"), 0.30, plate="IV"),
    Case("boiler of 84 % efficiency", Q_(0.20, "inH2O"), Q_(310.0, "degF"), 0.30, plate="IV"),
)


def case_rows(system: str = "US") -> list[tuple[str, ...]]:
    """The invented appliances: pressure, temperature, dew point, loss, the category by each rule and on the plate."""
    rows = []
    for c in CASES:
        shown = (show(q, system) for q in (c.pressure, c.flue, c.dew_point, c.margin, c.loss))
        rows.append((c.name, *shown, _named(c.by_margin), _named(c.by_loss), c.plate))
    return rows


def _named(category: Category | None) -> str:
    return "none" if category is None else category.name


# --- Checks ---------------------------------------------------------------------------------------------


def _switch(condensing_at: Callable[[float], Category], low: float, high: float) -> float:
    """Where a classification stops to be condensing, by halving: within a millionth of the interval."""
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if condensing_at(middle).condensing else (low, middle)
    return high


def checks() -> tuple[checked.Check, ...]:
    """The thresholds at which `classify` turns over, and the listing of each kind of pipe."""
    zero = Q_(0.0, "Pa")
    loss = _switch(lambda x: appliance.classify(zero, flue_loss=Q_(x, "percent")), 1.0, 60.0)
    margin = _switch(lambda x: appliance.classify(zero, margin=Q_(x, "delta_degF")), 1.0, 500.0)
    listing = {
        "K008": "Type B gas vent",
        "K009": "Type L vent",
        "K010": "stainless special gas vent double wall",
        "K011": "insulated chimney",
    }
    ours = {"K005": loss, "K006": 100.0 - loss, "K007": margin}
    return checked.compare("categories_checks", ours | {k: materials.material(n).listing for k, n in listing.items()})


def definitions_table() -> str:
    """The definitions K001 to K004 as printed, beside what `classify` says of such an appliance."""
    rows = []
    for row in tables.read("categories_checks")[:4]:
        pressure = Q_(1.0 if row["static_pressure"] == "positive" else -1.0, "Pa")
        loss = Q_(10.0 if row["condensing"] == "yes" else 25.0, "percent")
        found = appliance.classify(pressure, flue_loss=loss).name
        rows.append((row["item"], row["static_pressure"], row["condensing"], found, row["source"], row["status"]))
    return panels.table(("published", "static pressure", "condensing", "classify says", "source", "status"), rows)


def rules_table(subject: str) -> str:
    """The rules of ``data/gas/category_rules.csv`` on a subject, with section, source and status."""
    rows = [r for r in tables.read("category_rules") if r["subject"] == subject]
    columns = ("id", "rule", "section", "source", "status")
    return panels.table(("", *columns[1:]), [tuple(r[c] for c in columns) for r in rows])


# --- Pipe -----------------------------------------------------------------------------------------------


def pipe_rows(system: str = "US") -> list[tuple[str, ...]]:
    """Every kind of pipe: its listing, what it may carry, and by which categories it may be used."""
    rows, unit = [], shown_unit("draft", system)
    for m in map(materials.material, materials.names()):
        marks = ["yes" if c in m.categories else "-" for c in CATEGORIES]
        pressure = f"{m.max_pressure.m_as(unit):,.0f} {unit_text(unit)}" if m.max_pressure.m_as("Pa") else "draft only"
        water = "yes" if m.condensate else "no"
        rows.append((m.name, m.listing, show(m.max_temperature, system), pressure, water, *marks))
    return rows


def against(case: Case, pipe: str) -> tuple[materials.Objection, ...]:
    """What speaks against a kind of pipe for this appliance, by the category that it is `taken_as`."""
    category, kind = taken_as(case), fuel(case.fuel).kind
    asked = (category.name,) if category else ()
    service = materials.Service("pipe", asked, (kind,), "room", case.flue, case.pressure, case.wets)
    return materials.objections(materials.material(pipe), service)


def objections(case: Case, pipe: str, system: str = "US") -> tuple[str, ...]:
    """The same in words."""
    return tuple(materials.sentence(o, system) for o in against(case, pipe))


def taken_as(case: Case) -> Category | None:
    """The category of its plate; without one the wet one where either rule expects water; None for oil."""
    if case.plate or not case.burns_gas:
        return CATEGORIES.get(case.plate)
    return case.by_margin if case.by_margin.condensing else case.by_loss


def suitable(case: Case) -> tuple[str, ...]:
    """Kinds of pipe against which nothing speaks but, for plastic pipe, that the appliance's listing must name it."""
    return tuple(name for name in materials.names() if all(o.code == "material_unlisted" for o in against(case, name)))


# --- Figures --------------------------------------------------------------------------------------------


def fields(system: str = "US") -> Figure:
    """The picture of the thing: four fields, by outlet pressure and margin above the dew point, and the appliances."""
    (figure, axes), names = one_axes(3.7), []
    _draw_fields(axes, system, CASES[-1])
    for number, case in enumerate(CASES, start=1):
        x, y = _place(case, system)
        axes.plot(x, y, "o", color=plots.RUST, ms=15, zorder=3)
        axes.text(x, y, str(number), ha="center", va="center", color="white", size=plots.SIZE, zorder=4)
        names.append(fill(f"{number} {case.name}", 21, subsequent_indent="   "))
    beside = {"transform": axes.transAxes, "va": "top", "size": plots.SIZE, "color": plots.INK}
    axes.text(1.02, 1.0, "\n".join(names), **beside)
    return figure


def _one_in_the_fields(system: str, case: Case) -> Figure:
    figure, (axes,) = row_of_axes(1, 3.2)
    _draw_fields(axes, system, case)
    x, y = _place(case, system)
    axes.plot(x, y, "o", color=plots.RUST, ms=9, zorder=3)
    return figure


def _place(case: Case, system: str) -> tuple[float, float]:
    margin = case.margin.m_as(shown_unit("temperature difference", system))
    return float(margin), float(case.pressure.m_as(shown_unit("draft", system)))


def _draw_fields(axes: Axes, system: str, case: Case) -> None:
    """The fields with both lines of water: at the margin, and at 17 % flue loss with the excess air of ``case``."""
    across, up = shown_unit("temperature difference", system), shown_unit("draft", system)
    limit = Q_(appliance.CONDENSING_MARGIN, "delta_degC").m_as(across)
    left, right = (Q_(v, "delta_degF").m_as(across) for v in (-30.0, 420.0))
    low, high = (Q_(v, "inH2O").m_as(up) for v in (-0.25, 0.6))
    dry_from = max(limit, _loss_line(case, across)) if case.burns_gas else limit
    axes.axvspan(left, limit, fc="#dfe7f0", ec="none")
    axes.axhline(0.0, color=plots.INK, lw=1.2)
    lines = [(0.0, "dew point", plots.BLUE, "--"), (limit, "140 °F (78 K) above", plots.INK, "-")]
    lines += [(dry_from, "17 % flue loss", plots.INK, "--")] if case.burns_gas else []
    for x, words, color, style in lines:
        axes.axvline(x, color=color, lw=1.2, ls=style)
        axes.text(x, 0.45 * high, words, rotation=90, ha="right", va="center", size=plots.SIZE, color=color,
                  bbox={"fc": "white", "ec": "none", "alpha": 0.8, "pad": 1.0})  # fmt: skip
    if case.burns_gas:
        axes.axvspan(limit, dry_from, fc="none", ec=plots.GREY, lw=0, hatch="////", alpha=0.4)
        for name, c in CATEGORIES.items():
            x = 0.5 * limit if c.condensing else (dry_from + right) / 2
            y = 0.55 * high if c.positive else 0.7 * low
            axes.text(x, y, name, ha="center", va="center", size=22, color=plots.GREY, alpha=0.8)
    plain(axes, axis("flue gas above its dew point", "temperature difference", system),
          axis("outlet pressure, gauge", "draft", system))  # fmt: skip
    axes.set(xlim=(left, right), ylim=(low, high))


def _loss_line(case: Case, unit: str) -> float:
    """How far above the dew point the gas loses 17 %, at the excess air of ``case``."""
    dew, _, by_loss = (float(t[0]) for t in limits(np.array([case.excess_air]), case.fuel))
    return float(Q_(by_loss - dew, "delta_degC").m_as(unit))


def limits(excess_air: np.ndarray, name: str = "natural gas") -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Flue temperatures [K] at the dew point, at 140 °F above it, and at 17 % flue loss, for each excess air."""
    burned = fuel(name)
    dew = np.asarray(condensation.dew_point.bare(combustion.products.bare(burned, excess_air).gas, ATM.m_as("Pa")))

    def loss_above(kelvin: float, excess: float) -> float:
        return stack_loss.stack_loss.bare(burned, excess, kelvin, ROOM.m_as("K")) - appliance.CONDENSING_LOSS

    by_loss = np.array([brentq(loss_above, 300.0, 1000.0, args=(float(e),)) for e in excess_air])
    return dew, dew + appliance.CONDENSING_MARGIN, by_loss


def two_rules(system: str = "US") -> Figure:
    """Where each rule draws the line between condensing and not, against excess air."""
    (figure, axes), excess, unit = one_axes(3.1), np.linspace(0.05, 1.2, 24), shown_unit("temperature", system)
    dew, by_margin, by_loss = (Q_(t, "K").m_as(unit) for t in limits(excess))
    for line, style, color, words in (
        (by_loss, "-", plots.INK, "17 % flue loss"),
        (by_margin, "--", plots.INK, "140 °F (78 K) above the dew point"),
        (dew, ":", plots.BLUE, "dew point"),
    ):
        axes.plot(100 * excess, line, style, color=color, lw=1.8, label=words)
    axes.fill_between(100 * excess, by_margin, by_loss, fc="none", ec=plots.GREY, lw=0, hatch="////", alpha=0.6)
    axes.annotate(
        "the rules differ", (60, (by_margin[11] + by_loss[11]) / 2), ha="center", va="center", size=plots.SIZE,
        bbox={"fc": "white", "ec": "none", "pad": 2.0},
    )  # fmt: skip
    plain(axes, "excess air, %", axis("flue temperature", "temperature", system))
    legend(axes, loc="lower right", bbox_to_anchor=(1.0, 0.16))
    return figure


# --- Live controls --------------------------------------------------------------------------------------


def explorer(system: str = "US") -> panels.Panel:
    """Controls of one appliance and one kind of pipe."""
    start, unit = CASES[1], shown_unit("draft", system)
    values, digits = (np.arange(-10, 31) / 50.0, 2) if system == "US" else (np.arange(-50.0, 151.0, 5.0), 0)
    pressures = [(f"{p:.{digits}f} {unit_text(unit)}", float(Q_(p, unit).m_as("Pa"))) for p in values]
    flues = steps("temperature", system, range(80, 601, 10), range(25, 316, 5))
    controls = {
        "pressure": panels.slider("Outlet pressure", pressures, start.pressure.m_as("Pa")),
        "flue": panels.slider("Flue gas", flues, start.flue.m_as("K")),
        "excess_air": panels.slider("Excess air", panels.percents(range(5, 125, 5)), start.excess_air),
        "name": panels.choice("Fuel", FUELS, "natural gas"),
        "pipe": panels.choice("Pipe", materials.names(), "Type B gas vent"),
    }
    return panels.Panel(partial(explorer_answer, system), controls)


def explorer_answer(
    system: str, *, pressure: float, flue: float, excess_air: float, name: str, pipe: str
) -> tuple[str, bytes]:
    """Category by both rules, and what speaks against the pipe; Pa, K."""
    case = Case("yours", Q_(pressure, "Pa"), Q_(flue, "K"), excess_air, name)
    rows = [
        ("140 °F (78 K) above the dew point", show(case.margin, system), _named(case.by_margin)),
        ("17 % flue loss", show(case.loss, system), _named(case.by_loss)),
    ]
    said = "".join(f"<li>{w}</li>" for w in objections(case, pipe, system) or ("nothing here speaks against it",))
    fit, dew = ", ".join(suitable(case)) or "none of these kinds", show(case.dew_point, system)
    of_oil = "" if case.burns_gas else f"<p>{say('handbook', 'appliance_category', 'oil')}</p>"
    text = f"<p>Dew point {dew}. <b>{pipe}</b>:</p><ul>{said}</ul><p>Kinds that may serve: {fit}.</p>"
    numbers = panels.table(("rule", "this appliance", "category"), rows)
    return numbers + of_oil + text, picture(_one_in_the_fields(system, case))


# --- Questions ------------------------------------------------------------------------------------------


def questions(system: str = "US", seed: int | None = None) -> tuple[Exercise, ...]:
    """Questions of the chapter, with its own figures or those that ``seed`` draws."""
    return load("appliance_category", (which, dry_enough, flue_loss, return_water), system, seed)


def which(pressure: Quantity, flue: Quantity, excess: int) -> dict[str, Quantity]:
    """The category that an appliance's figures indicate."""
    case = Case("", pressure, flue, excess / 100)
    numbers = {name: Q_(float(k), "") for k, name in enumerate(CATEGORIES, start=1)}
    return {"answer": numbers[case.by_loss.name], "dew_point": case.dew_point, "loss": case.loss, **numbers}


def dry_enough(excess: int, system: str) -> dict[str, Quantity]:
    """Flue temperature from which on the margin above the dew point says that nothing condenses."""
    dew, margin = Case("", Q_(0.0, "Pa"), ROOM, excess / 100).dew_point, Q_(appliance.CONDENSING_MARGIN, "delta_degC")
    kelvin, read_off = dew.m_as("K"), Q_(140.0, "degF")
    return {
        "answer": Q_(float(kelvin + margin.m), "K"),
        "dew_point": dew,
        "margin": margin,
        "margin_alone": read_off if system == "US" else Q_(margin.m, "degC"),
        "read_off": Q_(float(kelvin + read_off.m_as("degC")), "K"),
    }


def flue_loss(flue: Quantity, excess: int) -> dict[str, Quantity]:
    """Flue loss of natural gas, and its latent part."""
    burned = fuel("natural gas")
    loss, latent = (stack_loss.stack_loss(burned, excess / 100, t, ROOM).to("percent") for t in (flue, ROOM))
    return {
        "answer": loss,
        "room": ROOM,
        "latent": latent,
        "sensible": loss - latent,
        "stays": Q_(100.0, "percent") - loss,
    }


def return_water(above: Quantity) -> dict[str, Quantity]:
    """Warmest return water with which plastic pipe may be used."""
    rated, step = materials.material("PVC pipe").max_temperature, above.m_as("delta_degC")
    cooler, warmer = (Q_(float(rated.m_as("K") + by), "K") for by in (-step, step))
    return {"answer": cooler, "rated": rated, "wrong_way": warmer}
