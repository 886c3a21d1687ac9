"""Appliance categories: the chapter's questions, live controls, checks and figures."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from textwrap import fill

import numpy as np
from IPython.display import HTML
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from scipy.optimize import brentq

from ventcalc import checked, tables
from ventcalc.flow import materials
from ventcalc.gas import appliance, combustion, condensation, stack_loss
from ventcalc.gas.appliance import CATEGORIES, Category
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


def all_cases(system: str = "US") -> HTML:
    """The invented appliances: pressure, temperature, dew point, loss, the category by each rule and on the plate."""
    rows = []
    for c in CASES:
        shown = (show(q, system) for q in (c.pressure, c.flue, c.dew_point, c.margin, c.loss))
        rows.append((c.name, *shown, _named(c.by_margin), _named(c.by_loss), c.plate))
    header = ("appliance", "pressure", "flue gas", "dew point", "margin", "flue loss", "by margin", "by loss", "plate")
    return HTML(panels.table(header, rows))


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
    """The threshold of loss at which `classify` turns over, and the listing of each kind of pipe.

    The one of temperature, K007, is recalled from memory and no evidence.
    """
    zero = Q_(0.0, "Pa")
    loss = _switch(lambda x: appliance.classify(zero, flue_loss=Q_(x, "percent")), 1.0, 60.0)
    listing = {
        "K008": "Type B gas vent",
        "K009": "Type L vent",
        "K010": "stainless special gas vent double wall",
        "K011": "insulated chimney",
    }
    ours = {"K005": loss, "K006": 100.0 - loss}
    return checked.compare("categories_checks", ours | {k: materials.material(n).listing for k, n in listing.items()})


def rules_table(subject: str) -> str:
    """The rules of ``data/gas/category_rules.csv`` on a subject, with section, source and status."""
    rows = [r for r in tables.read("category_rules") if r["subject"] == subject]
    columns = ("id", "rule", "section", "source", "status")
    return panels.table(("", *columns[1:]), [tuple(r[c] for c in columns) for r in rows])


# --- Pipe -----------------------------------------------------------------------------------------------


def all_pipes(system: str = "US") -> HTML:
    """Every kind of pipe: its listing, what it may carry, and by which categories it may be used."""
    rows, unit = [], shown_unit("draft", system)
    for m in map(materials.material, materials.names()):
        marks = ["yes" if c in m.categories else "-" for c in CATEGORIES]
        pressure = f"{m.max_pressure.m_as(unit):,.0f} {unit_text(unit)}" if m.max_pressure.m_as("Pa") else "draft only"
        water = "yes" if m.condensate else "no"
        rows.append((m.name, m.listing, show(m.max_temperature, system), pressure, water, *marks))
    return HTML(panels.table(("kind", "listing", "to", "pressure", "condensate", *CATEGORIES), rows))


def pipes_of_cases(system: str = "US") -> HTML:
    """What may serve the invented appliances, by their plates, and what speaks against Type B."""
    rows = [
        (case.name, taken_as(case).name, ", ".join(suitable(case)), _said(case, "Type B gas vent", system))
        for case in CASES
    ]
    return HTML(panels.table(("appliance", "taken as", "kinds that may serve", "why not Type B"), rows))


def plastic(system: str = "US") -> HTML:
    """What speaks against three kinds of plastic on a condensing boiler and on the caller's."""
    pipes = ("PVC pipe", "CPVC pipe", "polypropylene vent")
    rows = [(pipe, case.name, _said(case, pipe, system)) for pipe in pipes for case in CASES[4:]]
    return HTML(panels.table(("pipe", "appliance", "objections"), rows))


def _said(case: Case, pipe: str, system: str) -> str:
    return "; ".join(objections(case, pipe, system)) or "none"


PAIRS = (("I", "I", -0.03), ("I", "III", 0.05), ("I", "IV", -0.03), ("IV", "IV", -0.05), ("IV", "IV", 0.20))  # in. w.c.


def sharing(system: str = "US") -> HTML:
    """What speaks against two appliances on one vent, by category and the highest pressure in it."""
    rows = []
    for one, other, at in PAIRS:
        highest = Q_(at, "inH2O")
        words = [o.words(system) for o in appliance.sharing_objections((one, other), highest)]
        rows.append((f"{one} and {other}", show(highest, system), "; ".join(words) or "none by category alone"))
    return HTML(panels.table(("on one vent", "highest pressure in it", "objections"), rows))


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


def _place(case: Case, system: str) -> tuple[float, float]:
    margin = case.margin.m_as(shown_unit("temperature difference", system))
    return float(margin), float(case.pressure.m_as(shown_unit("draft", system)))


def _draw_fields(axes: Axes, system: str, case: Case) -> None:
    """The fields with both lines of water: at the margin, and at 17 % flue loss with the excess air of ``case``."""
    across, up = shown_unit("temperature difference", system), shown_unit("draft", system)
    limit = Q_(appliance.CONDENSING_MARGIN, "delta_degC").m_as(across)
    left, right = (Q_(v, "delta_degF").m_as(across) for v in (-75.0, 520.0))
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
        "the rules differ", (30, (by_margin[5] + by_loss[5]) / 2), ha="center", va="center", size=plots.SIZE,
        bbox={"fc": "white", "ec": "none", "pad": 2.0},
    )  # fmt: skip
    plain(axes, "excess air, %", axis("flue temperature", "temperature", system))
    legend(axes, loc="lower right", bbox_to_anchor=(1.0, 0.16))
    return figure


# --- Live controls --------------------------------------------------------------------------------------


def explorer(system: str = "US") -> panels.Panel:
    """Controls of one appliance and one kind of pipe."""
    start, unit = CASES[-1], shown_unit("draft", system)
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
    said = "".join(f"<li>{w}</li>" for w in objections(case, pipe, system) or ("nothing here rules it out",))
    fit, dew = ", ".join(suitable(case)) or "none of these kinds", show(case.dew_point, system)
    of_oil = "" if case.burns_gas else f"<p>{say('handbook', 'appliance_category', 'oil')}</p>"
    text = f"<p>Dew point {dew}. <b>{pipe}</b>:</p><ul>{said}</ul><p>Kinds that may serve: {fit}.</p>"
    numbers = panels.table(("rule", "this appliance", "category"), rows)
    return numbers + of_oil + text, _picture(case, system)


def _picture(case: Case, system: str) -> bytes:
    figure = Figure((plots.WIDTH, 3.5))
    _draw_appliance(figure.add_axes((0.0, 0.0, 0.38, 1.0)), case, system)
    axes = figure.add_axes((0.49, 0.16, 0.50, 0.76))
    _draw_fields(axes, system, case)
    mark_now(axes, *_place(case, system), zorder=3)
    legend(axes, loc="upper right", frameon=True, framealpha=0.8, edgecolor="none")
    return picture(figure)


def _draw_appliance(axes: Axes, case: Case, system: str) -> None:
    """The appliance and its vent: out of a leak goes gas where it pushes, in goes air where it pulls; drops if wet."""
    axes.set(xlim=(0.0, 10.0), ylim=(0.0, 12.0))
    axes.axis("off")
    pushes = case.pressure.m_as("Pa") > 0.0
    axes.add_patch(Rectangle((0.6, 0.6), 4.0, 4.0, fc=plots.PALE, ec=plots.INK, lw=1.6))
    axes.add_patch(Rectangle((2.1, 4.6), 1.0, 7.2, fc="#fbe9dd", ec=plots.RUST, lw=1.4))
    axes.text(2.6, 2.6, "appliance", ha="center", va="center", size=plots.SIZE, color=plots.INK)
    ends = ((3.1, 8.2), (4.7, 8.2)) if pushes else ((4.7, 8.2), (3.1, 8.2))
    arrow = {"arrowstyle": "-|>", "color": plots.RUST if pushes else plots.BLUE, "lw": 2}
    axes.annotate("", ends[1], ends[0], arrowprops=arrow)
    leak = "pushes: gas goes\nout at a leak" if pushes else "pulls: air goes\nin at a leak"
    axes.text(4.9, 8.2, leak, va="center", size=plots.SIZE, color=plots.INK)
    told = f"{show(case.flue, system)}\n{show(case.pressure, system)}"
    axes.text(3.4, 5.8, told, va="center", size=plots.SIZE, color=plots.RUST)
    if case.wets:
        axes.plot([2.3, 2.9] * 4, np.repeat(np.linspace(5.2, 11.2, 4), 2), "v", color=plots.BLUE, ms=5)
    water = "water is to\nbe expected" if case.wets else "stays dry"
    axes.text(3.4, 10.7, water, va="center", size=plots.SIZE, color=plots.BLUE if case.wets else plots.INK)


# --- Prediction, and what is to be written --------------------------------------------------------------


def prediction(system: str = "US") -> Prediction:
    """What the reader expects of the heat that goes up a vent on the line between dry and condensing."""
    return predict("appliance_category", warmth_on_the_line, system)


MOST, HALF = 0.8, 0.5  # of the flue loss: where more than the first is warmth it is nearly all, above the other most


def warmth_on_the_line(excess: float) -> dict[str, Quantity | int]:
    """What of the flue loss that divides dry from condensing is warmth of the gas, natural gas."""
    latent = stack_loss.stack_loss(fuel("natural gas"), excess, ROOM, ROOM)
    line = Q_(appliance.CONDENSING_LOSS, "")
    warmth = line - latent
    share = float((warmth / line).m_as(""))
    dew, _, by_loss = (Q_(float(t[0]), "K") for t in limits(np.array([excess])))
    return {
        "right": 0 if share > MOST else 1 if share > HALF else 2,
        "figure": warmth.to("percent"),
        "line": line.to("percent"),
        "latent": latent.to("percent"),
        "dew": dew,
        "at": by_loss,
    }


def writing(system: str = "US") -> Writing:
    """The flue loss of natural gas, to be written by the reader."""
    return load_writing("appliance_category", loss_by_hand, system)


def loss_by_hand(flue: Quantity, room: Quantity, excess_air: Quantity, system: str) -> dict[str, Quantity]:
    """Flue loss of natural gas, and what it becomes by the slips that are made with it."""
    burned, excess = fuel("natural gas"), float(excess_air.m_as(""))
    loss, latent = (stack_loss.stack_loss(burned, excess, t, room) for t in (flue, room))
    none = stack_loss.stack_loss(burned, 0.0, flue, room)
    degrees = "degF" if system == "US" else "degC"
    hot, cold = flue.m_as(degrees), room.m_as(degrees)
    found = {
        "answer": loss,
        "no_latent": loss - latent,
        "no_room": latent + (loss - latent) * (hot / (hot - cold)),
        "no_excess": none,
        "percent_as_ratio": none + 100.0 * (loss - none),
    }
    return {name: share.to("percent") for name, share in found.items()}


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
