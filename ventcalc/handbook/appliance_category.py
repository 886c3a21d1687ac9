"""Appliance categories: the chapter's questions, live controls, checks and figures."""

from collections.abc import Callable
from dataclasses import dataclass
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
from ventcalc.show.axes import axis, picture, plain, row_of_axes
from ventcalc.show.exercises import Exercise, Slip
from ventcalc.show.panels import steps
from ventcalc.units import Q_, Quantity, show, shown_unit, unit_text

ATM, ROOM = Q_(1.0, "atm"), Q_(70.0, "degF")
FUELS = ("natural gas", "propane", "no. 2 oil")


# --- One appliance by both signs ------------------------------------------------------------------------


@dataclass(frozen=True)
class Case:
    """An appliance as its vent sees it: outlet pressure (gauge), flue gas temperature, excess air, fuel."""

    name: str
    pressure: Quantity
    flue: Quantity
    excess_air: float
    fuel: str = "natural gas"

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
    def by_loss(self) -> Category:
        """The category that flue loss indicates."""
        return appliance.classify(self.pressure, flue_loss=self.loss)

    @property
    def by_margin(self) -> Category:
        """The category that the margin above the dew point indicates."""
        return appliance.classify(self.pressure, margin=self.margin)


# Invented appliances, one for each field of the picture and one on which the two rules differ.
CASES = (
    Case("water heater with a draft hood", Q_(-0.02, "inH2O"), Q_(380.0, "degF"), 0.60),
    Case("boiler with an inducer fan", Q_(-0.06, "inH2O"), Q_(370.0, "degF"), 0.40),
    Case("condensing boiler on a fan-assisted stack", Q_(-0.05, "inH2O"), Q_(125.0, "degF"), 0.30),
    Case("unit heater through a side wall", Q_(0.15, "inH2O"), Q_(400.0, "degF"), 0.45),
    Case("condensing boiler", Q_(0.40, "inH2O"), Q_(130.0, "degF"), 0.30),
    Case("boiler of 84 % efficiency", Q_(0.20, "inH2O"), Q_(310.0, "degF"), 0.30),
)


def case_rows(system: str = "US") -> list[tuple[str, ...]]:
    """The invented appliances: pressure, temperature, dew point, loss, and the category by each rule."""
    return [
        (
            c.name,
            show(c.pressure, system),
            show(c.flue, system),
            show(c.dew_point, system),
            show(c.margin, system),
            show(c.loss, system),
            c.by_margin.name,
            c.by_loss.name,
        )
        for c in CASES
    ]


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
    rows = []
    for name in materials.names():
        m = materials.material(name)
        water = "yes" if m.condensate else "no"
        marks = ["yes" if c in m.categories else "-" for c in CATEGORIES]
        unit = shown_unit("draft", system)
        pressure = f"{m.max_pressure.m_as(unit):,.0f} {unit_text(unit)}" if m.max_pressure.m_as("Pa") else "draft only"
        rows.append((name, m.listing, show(m.max_temperature, system), pressure, water, *marks))
    return rows


def against(case: Case, pipe: str) -> tuple[materials.Objection, ...]:
    """What speaks against a kind of pipe for this appliance, by its category as the stricter of both rules sees it."""
    found, kind = stricter(case), fuel(case.fuel).kind
    service = materials.Service("pipe", (found.name,), (kind,), "room", case.flue, case.pressure, found.condensing)
    return materials.objections(materials.material(pipe), service)


def objections(case: Case, pipe: str, system: str = "US") -> tuple[str, ...]:
    """The same in words."""
    return tuple(materials.sentence(o, system) for o in against(case, pipe))


def stricter(case: Case) -> Category:
    """The category in which water is expected if either rule expects it."""
    return case.by_margin if case.by_margin.condensing else case.by_loss


def suitable(case: Case) -> tuple[str, ...]:
    """Kinds of pipe against which nothing speaks but, for plastic pipe, that the appliance's listing must name it."""
    return tuple(name for name in materials.names() if all(o.code == "material_unlisted" for o in against(case, name)))


# --- Figures --------------------------------------------------------------------------------------------


def fields(system: str = "US") -> Figure:
    """The picture of the thing: four fields, by outlet pressure and margin above the dew point, and the appliances."""
    figure = Figure(figsize=(plots.WIDTH, 3.7), layout="constrained")
    axes, names = figure.subplots(), []
    _draw_fields(axes, system)
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
    _draw_fields(axes, system)
    x, y = _place(case, system)
    axes.plot(x, y, "o", color=plots.RUST, ms=9, zorder=3)
    return figure


def _place(case: Case, system: str) -> tuple[float, float]:
    margin = case.margin.m_as(shown_unit("temperature difference", system))
    return float(margin), float(case.pressure.m_as(shown_unit("draft", system)))


def _draw_fields(axes: Axes, system: str) -> None:
    across, up = shown_unit("temperature difference", system), shown_unit("draft", system)
    limit = Q_(appliance.CONDENSING_MARGIN, "delta_degC").m_as(across)
    left, right = (Q_(v, "delta_degF").m_as(across) for v in (-30.0, 420.0))
    low, high = (Q_(v, "inH2O").m_as(up) for v in (-0.25, 0.6))
    axes.axvspan(left, limit, fc="#dfe7f0", ec="none")
    axes.axhline(0.0, color=plots.INK, lw=1.2)
    axes.axvline(limit, color=plots.INK, lw=1.2)
    axes.axvline(0.0, color=plots.BLUE, lw=1.0, ls="--")
    axes.text(0.0, 0.35 * high, "dew point", rotation=90, ha="right", va="center", size=plots.SIZE, color=plots.BLUE)
    for name, c in CATEGORIES.items():
        x = (left + limit) / 2 if c.condensing else (limit + right) / 2
        y = 0.75 * high if c.positive else 0.7 * low
        axes.text(x, y, name, ha="center", va="center", size=22, color=plots.GREY, alpha=0.8)
    plain(axes, axis("flue gas above its dew point", "temperature difference", system),
          axis("outlet pressure, gauge", "draft", system))  # fmt: skip
    axes.set(xlim=(left, right), ylim=(low, high))


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
    figure = Figure(figsize=(plots.WIDTH, 3.1), layout="constrained")
    axes, excess, unit = figure.subplots(), np.linspace(0.05, 1.2, 24), shown_unit("temperature", system)
    dew, by_margin, by_loss = (Q_(t, "K").m_as(unit) for t in limits(excess))
    axes.plot(100 * excess, by_loss, "-", color=plots.INK, lw=1.8, label="17 % flue loss")
    axes.plot(100 * excess, by_margin, "--", color=plots.INK, lw=1.8, label="140 °F (78 K) above the dew point")
    axes.plot(100 * excess, dew, ":", color=plots.BLUE, lw=1.8, label="dew point")
    axes.fill_between(100 * excess, by_margin, by_loss, fc="none", ec=plots.GREY, lw=0, hatch="////", alpha=0.6)
    axes.annotate(
        "the rules differ", (60, (by_margin[11] + by_loss[11]) / 2), ha="center", va="center", size=plots.SIZE,
        bbox={"fc": "white", "ec": "none", "pad": 2.0},
    )  # fmt: skip
    plain(axes, "excess air, %", axis("flue temperature", "temperature", system))
    axes.legend(fontsize=plots.SIZE, frameon=False, loc="lower right", bbox_to_anchor=(1.0, 0.16))
    return figure


# --- Live controls --------------------------------------------------------------------------------------


def explorer(system: str = "US") -> panels.Panel:
    """Controls of one appliance and one kind of pipe."""
    unit, values = ("inH2O", np.arange(-10, 31) / 50.0) if system == "US" else ("Pa", np.arange(-50.0, 151.0, 5.0))
    digits = 2 if system == "US" else 0
    pressures = [(f"{p:.{digits}f} {unit_text(unit)}", float(Q_(p, unit).m_as("Pa"))) for p in values]
    flues = steps("temperature", system, range(80, 601, 10), range(25, 316, 5))
    start = CASES[1]
    controls = {
        "pressure": panels.slider("Outlet pressure", pressures, float(start.pressure.m_as("Pa"))),
        "flue": panels.slider("Flue gas", flues, float(start.flue.m_as("K"))),
        "excess_air": panels.slider("Excess air", [(f"{e} %", e / 100.0) for e in range(5, 125, 5)], start.excess_air),
        "name": panels.choice("Fuel", FUELS, "natural gas"),
        "pipe": panels.choice("Pipe", materials.names(), "Type B gas vent"),
    }

    def answer(**values) -> tuple[str, bytes]:
        return explorer_answer(system, **values)

    return panels.Panel(answer, controls)


def explorer_answer(
    system: str, *, pressure: float, flue: float, excess_air: float, name: str, pipe: str
) -> tuple[str, bytes]:
    """Category by both rules, and what speaks against the pipe; Pa, K."""
    case = Case("yours", Q_(pressure, "Pa"), Q_(flue, "K"), excess_air, name)
    rows = [
        ("140 °F (78 K) above the dew point", show(case.margin, system), case.by_margin.name),
        ("17 % flue loss", show(case.loss, system), case.by_loss.name),
    ]
    words = objections(case, pipe, system) or ("nothing here speaks against it",)
    said = "".join(f"<li>{w}</li>" for w in words)
    fit = ", ".join(suitable(case)) or "none of these kinds"
    numbers = panels.table(("rule", "this appliance", "category"), rows)
    dew = show(case.dew_point, system)
    text = f"<p>Dew point {dew}. <b>{pipe}</b>:</p><ul>{said}</ul><p>Kinds that may serve: {fit}.</p>"
    return numbers + text, picture(_one_in_the_fields(system, case))


# --- Questions ------------------------------------------------------------------------------------------


def questions(system: str = "US") -> tuple[Exercise, ...]:
    """Questions of the chapter."""
    return (_which(system), _dry_enough(system), _loss(system), _return_water(system))


def _which(system: str) -> Exercise:
    case = Case("", Q_(0.10, "inH2O"), Q_(360.0, "degF"), 0.40)
    number = float(list(CATEGORIES).index(case.by_loss.name) + 1)
    wrong = {
        1: "Category I has no positive pressure; this one pushes.",
        2: "Category II has no positive pressure, and condenses; this one does neither.",
        4: "Category IV condenses; this gas is far above its dew point and 17 % and more of the heat leave with it.",
    }
    return Exercise(
        question=(
            f"At the outlet of a heater the gauge pressure is {show(case.pressure, system)}, the flue gas is at "
            f"{show(case.flue, system)}, its dew point {show(case.dew_point, system)}, its flue loss "
            f"{show(case.loss, system)}. Which "
            "category do these figures indicate? Answer 1, 2, 3 or 4."
        ),
        expected=Q_(number, ""),
        tolerance=Q_(0.1, ""),
        hints=(
            "Two questions: does it push? Does it condense?",
            "It pushes, and both rules say that it does not condense.",
        ),
        solution="Positive and not condensing: category III. Its plate decides; the figures only indicate.",
        slips=tuple(Slip(Q_(float(n), ""), reason) for n, reason in wrong.items()),
        example="2",
    )


def _dry_enough(system: str) -> Exercise:
    case = Case("", Q_(0.0, "Pa"), Q_(300.0, "degF"), 0.30)
    dew, margin = case.dew_point, Q_(appliance.CONDENSING_MARGIN, "delta_degC")
    expected = Q_(float(dew.m_as("K") + margin.m_as("delta_degC")), "K")
    slip = Q_(140.0, "degF")
    return Exercise(
        question=(
            f"Natural gas burns with 30 % excess air; the dew point of its flue gas is {show(dew, system)}. By the "
            "rule of "
            f"{show(margin, system)} above the dew point: from which flue temperature on does the appliance not "
            "condense?"
        ),
        expected=expected,
        tolerance=Q_(3.0, "delta_degF"),
        hints=(
            "The rule is a difference, to be added to the dew point.",
            "In degrees Fahrenheit the difference is 140.",
        ),
        solution=(
            f"{show(dew, system)} and {show(margin, system)} more: {show(expected, system)}. "
            "(The rule is recalled from memory.)"
        ),
        slips=(
            Slip(slip, "140 °F is the margin, a difference; add it to the dew point."),
            Slip(dew, "That is the dew point: the wall is colder than the gas, hence the margin."),
            Slip(
                Q_(float(dew.m_as("K") + slip.m_as("K") - 273.15), "K"),
                "A difference of 140 °F is 78 K; 60 is what a thermometer at 140 °F shows in °C.",
            ),
        ),
        example="300 degF" if system == "US" else "150 degC",
    )


def _loss(system: str) -> Exercise:
    burned, excess, flue = fuel("natural gas"), 0.30, Q_(400.0, "degF")
    expected = stack_loss.stack_loss(burned, excess, flue, ROOM).to("percent")
    latent = stack_loss.stack_loss(burned, excess, ROOM, ROOM).to("percent")
    return Exercise(
        question=(
            f"Natural gas, 30 % excess air, flue gas at {show(flue, system)}, room {show(ROOM, system)}. The water "
            "vapour alone carries "
            f"away {show(latent, system)} of the heat input as latent heat. How much leaves with the flue gas in all, "
            "in percent of "
            "the heat input (HHV)?"
        ),
        expected=expected,
        tolerance=Q_(0.5, "percent"),
        hints=(
            "stack_loss.stack_loss gives it.",
            "Latent heat, and the sensible heat of the gas above the room's temperature.",
        ),
        solution=(
            f"stack_loss.stack_loss: {show(expected, system)}. Of that {show(latent, system)} are latent and the rest "
            "is warmth: more than "
            "17 %, so by this rule it does not condense."
        ),
        slips=(
            Slip(expected - latent, "That is the sensible part; the vapour's latent heat leaves as well."),
            Slip(latent, "That is the latent part alone."),
            Slip(Q_(100.0, "percent") - expected, "That is the combustion efficiency, what stays."),
        ),
        example="20 %",
    )


def _return_water(system: str) -> Exercise:
    rated, above = materials.material("PVC pipe").max_temperature, Q_(20.0, "delta_degF")
    expected = Q_(float(rated.m_as("K") - above.m_as("delta_degC")), "K")
    return Exercise(
        question=(
            f"A condensing boiler sends its flue gas out {show(above, system)} warmer than the water that comes back "
            "to it. Its "
            f"instructions name PVC pipe, which is rated near {show(rated, system)}. What is the warmest return water "
            "with which "
            "that pipe may be used?"
        ),
        expected=expected,
        tolerance=Q_(1.5, "delta_degF"),
        hints=("The pipe sees the flue gas, not the water.", "Take the difference off the rating."),
        solution=(
            f"{show(rated, system)} less {show(above, system)}: {show(expected, system)}. An old radiator system asks "
            "for far more on a "
            "cold day; then this pipe is the wrong one, whatever the category."
        ),
        slips=(
            Slip(rated, "That is the rating; the gas is warmer than the water."),
            Slip(
                Q_(float(rated.m_as("K") + above.m_as("delta_degC")), "K"),
                "Take the difference off: the gas is the warmer one.",
            ),
        ),
        example="130 degF" if system == "US" else "55 degC",
    )
