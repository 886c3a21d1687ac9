"""Capacity tables: the code's examples end to end, physics beside every sampled cell, questions, live controls."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, partial
from itertools import groupby

import numpy as np
from IPython.display import HTML
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ventcalc import checked, tables
from ventcalc.flow.materials import material
from ventcalc.gas import combustion, combustion_analysis
from ventcalc.gas.appliance import Appliance, FiringLevel
from ventcalc.gas.fuels import fuel
from ventcalc.show.axes import axis, label, legend, number, picture, plain, row_of_axes
from ventcalc.show.exercises import Exercise
from ventcalc.show.panels import Panel, choice, slider, table
from ventcalc.show.plots import BLUE, GREY, INK, RUST
from ventcalc.show.prediction import Prediction
from ventcalc.show.prediction import load as predict
from ventcalc.show.questions import load
from ventcalc.show.section_drawing import section_drawing
from ventcalc.show.svg import Drawing
from ventcalc.show.writing import Writing
from ventcalc.show.writing import load as load_writing
from ventcalc.units import Q_, Quantity, show
from ventcalc.vent import area_rule, capacity_rules, draft_margin, single_vent, vent_at_work, vent_sizing
from ventcalc.vent.capacity_rules import Limits, common, connector, single, smallest
from ventcalc.vent.capacity_tables import Cell, sampled
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import Season
from ventcalc.words import say

# --- The design condition of the tables -------------------------------------------------------------------

# The chimney handbook's conditions for initial sizing, as tabulated in a public calculation sheet (published): behind
# a draft hood 5.3 % CO2 (C039) and 165 K above the room (C046); mid-efficiency gas without a hood 135 K (C048). It
# prints 8 % CO2 for natural gas beside its mass-flow equation (C045); here for the flue gas before a hood and of a fan.
BURNER_CO2 = Q_(8.0, "percent")
HOOD_RISE, FAN_RISE = (
    Q_(float(tables.row("combustion_checks", key)["value"]), "delta_degC") for key in ("C046", "C048")
)
# Indoors and out: from memory, to be confirmed. Warmer outdoors would make less draft, colder more.
DESIGN = Season("design", Q_(60.0, "degF"), Q_(60.0, "degF"))
CAP = "low-resistance cap"

_GALVANIZED, _TYPE_B, _MASONRY = "single-wall galvanized connector", "Type B gas vent", "tile-lined masonry chimney"
# Connector and vent of each table of one appliance.
MADE_OF = {
    "504.2(1)": (_TYPE_B, _TYPE_B),
    "504.2(2)": (_GALVANIZED, _TYPE_B),
    "504.2(3)": (_TYPE_B, _MASONRY),
    "504.2(5)": (_GALVANIZED, _GALVANIZED),
}
KINDS = {"NAT max": "draft hood", "FAN max": "forced"}
_COLUMNS = {"NAT max": "draft hood (NAT max)", "FAN max": "fan-assisted (FAN max)"}
_STATUS = {"NAT max": "status_nat_max", "FAN max": "status_fan_max"}


def appliance(kind: str, outlet: Quantity, co2: Quantity = BURNER_CO2) -> Appliance:
    """A natural gas appliance at the design condition: ``kind`` "draft hood" or "forced", and its outlet's diameter."""
    gas = fuel("natural gas")
    excess = combustion_analysis.excess_air_from_co2(gas, co2)
    rise = FAN_RISE
    if kind == "draft hood":  # so hot before the hood that the thinned gas is at its rise
        behind = combustion_analysis.excess_air_from_co2(gas, draft_margin.HOOD_CO2)
        made, thinned = (combustion.flue_gas_per_heat(gas, e) for e in (excess, behind))
        rise = HOOD_RISE * float((thinned / made).m_as(""))
    hot = Q_(DESIGN.room.m_as("K") + rise.m_as("delta_degC"), "K")
    level = FiringLevel("on", Q_(100.0, "MBH"), float(excess.m_as("")), hot)
    window = (Q_(-100.0, "Pa"), Q_(0.0, "Pa"))  # category I: never above the room
    return Appliance("Appliance", gas, "I", (level,), outlet, Q_(4.0, "ft"), window, kind)


def vent(
    number_: str,
    kind: str,
    height: Quantity,
    lateral: Quantity,
    diameter: Quantity,
    area: float | None = None,
    co2: Quantity = BURNER_CO2,
) -> Plant:
    """The vent that a line of a table stands for: two elbows on a lateral, none without; the outlet as wide."""
    connecting, upright = MADE_OF[number_]
    wide = diameter if area is None else Q_((4.0 / np.pi * area) ** 0.5, "inch")
    pieces = {"material": material(upright), "connector": material(connecting), "connector_diameter": diameter}
    bends = ("elbow 90", "elbow 90") if lateral.m > 0.0 else ()
    return single_vent.single_vent(
        appliance(kind, diameter, co2), height, wide, run=lateral, fittings=bends, cap=CAP, **pieces
    )


# --- Physics beside the table -------------------------------------------------------------------------------


@dataclass(frozen=True)
class Beside:
    """A sampled cell and our capacity for the vent it stands for, both MBH."""

    cell: Cell
    column: str
    ours: float
    published: float

    @property
    def ratio(self) -> float:
        """Ours over the table's."""
        return self.ours / self.published

    @property
    def published_in_full(self) -> bool:
        """Whether this value was read in a source, all its digits; else some or all are from memory."""
        row = tables.row("vent_capacity_checks", self.cell.id)
        return (row[_STATUS[self.column]] or row["status"]).startswith("published")


@cache
def beside(column: str, number_: str, cold: bool = False, co2: float = 8.0) -> tuple[Beside, ...]:
    """Every sampled cell of one table and column, with the capacity from first principles, on hot or cold walls.

    ``co2`` [%] of the burner's dry flue gas.
    """
    chosen = [c for c in sampled() if c.table == number_ and c.values.get(column) is not None]

    def alike(c: Cell):  # what one drawing can stand for; height and lateral vary within it
        return c.diameter, c.area or 0.0, c.second > 0.0

    found = []
    for (inch, area, _), group in groupby(sorted(chosen, key=alike), key=alike):
        members = list(group)
        heights, laterals = (np.array([getattr(c, n) for c in members]) for n in ("height", "second"))
        first = (Q_(v[0], "ft") for v in (heights, laterals))
        plant = vent(number_, KINDS[column], *first, Q_(inch, "inch"), area or None, Q_(co2, "percent"))
        sizes = {"height": Q_(heights, "ft"), "run": Q_(laterals, "ft")}
        ours = vent_sizing.capacity(plant, DESIGN, cold=cold, **sizes).m_as("MBH")
        found += [Beside(c, column, float(q), c.values[column]) for c, q in zip(members, ours, strict=True)]
    return tuple(found)


def summary(found: Iterable[Beside]) -> tuple[int, float, float, float]:
    """How many cells, the median ratio, and the shares within 15 and 30 %."""
    ratios = np.array([b.ratio for b in found])
    off = np.abs(ratios - 1.0)
    return ratios.size, float(np.median(ratios)), float(np.mean(off <= 0.15)), float(np.mean(off <= 0.30))


COMPARED = (("504.2(1)", "NAT max"), ("504.2(1)", "FAN max"), ("504.2(2)", "NAT max"), ("504.2(3)", "NAT max"),
            ("504.2(3)", "FAN max"), ("504.2(5)", "NAT max"))  # fmt: skip


def summary_table(system: str = "US") -> HTML:
    """Each table and column: cells, median ratio, shares within 15 and 30 %, spread; and the median on cold walls.

    Ratios are the same in both unit systems.
    """
    del system
    rows = []
    for number_, column in COMPARED:
        found = beside(column, number_)
        count, median, near, nearer = summary(found)
        cold = summary(beside(column, number_, cold=True))[1]
        read = sum(b.published_in_full for b in found)
        least, most = min(b.ratio for b in found), max(b.ratio for b in found)
        medians, shares = (f"{median:.2f}", f"{cold:.2f}"), (f"{100 * near:.0f} %", f"{100 * nearer:.0f} %")
        rows.append((number_, column, f"{count} ({read})", *medians, *shares, f"{least:.2f} to {most:.2f}"))
    head = ("table", "column", "cells (read)", "median ratio", "on cold walls", "within 15 %", "within 30 %", "spread")
    return HTML(table(head, rows))


def by_co2(system: str = "US") -> HTML:
    """Fan-assisted cells with a burner of 7, 8 and 9 % CO2; ratios are the same in both unit systems."""
    del system
    rows = []
    for co2 in (7.0, 8.0, 9.0):
        _, median, near, nearer = summary(beside("FAN max", "504.2(1)", co2=co2))
        rows.append((f"{co2:g} % CO₂", f"{median:.2f}", f"{100 * near:.0f} %", f"{100 * nearer:.0f} %"))
    return HTML(table(("fan-assisted at", "median ratio", "within 15 %", "within 30 %"), rows))


def ratios(system: str = "US") -> Figure:
    """Ours over the table's against the vent's height: draft hood and fan-assisted, by diameter."""
    figure, both = row_of_axes(2, 3.3)
    for axes, (column, words) in zip(both, _COLUMNS.items(), strict=True):
        axes.axhspan(0.85, 1.15, fc=GREY, alpha=0.25, lw=0, label="within 15 %")
        axes.axhline(1.0, color=INK, lw=0.8)
        for low, high, mark, color in ((3, 5, "o", BLUE), (6, 8, "s", INK), (9, 12, "^", RUST)):
            some = [b for b in beside(column, "504.2(1)") if low <= b.cell.diameter <= high]
            x = number([b.cell.height for b in some], "ft", "height", system)
            least, most = number([low, high], "inch", "diameter", system)
            named = f"{least:.3g} to {most:.3g} {label('diameter', system)}"
            axes.plot(x, [b.ratio for b in some], mark, ms=5, mfc="none", color=color, label=named)
        plain(axes, axis("height", "height", system), "ours / table (ratio)", words)
        axes.set_ylim(0.7, 1.5)
    legend(both[0], loc="upper left", handletextpad=0.2, labelspacing=0.2)
    return figure


# --- What the chapter stands on ---------------------------------------------------------------------------


def _ft(value: float) -> Quantity:
    return Q_(value, "ft")


def _inch(value: float) -> Quantity:
    return Q_(value, "inch")


LINER = Q_(63.6, "inch**2")  # V214: the area of a nominal 8 x 12 in. clay liner
OUTLET_AREA = Q_(12.2, "inch**2")  # V215: what the code's example takes for a 4 in. outlet


def example_checks() -> tuple[checked.Check, ...]:
    """The code's worked examples, by its own procedure on the cells that they quote."""
    given = sampled()

    def elbowed(diameter, count):
        return single(given, "504.2(2)", "NAT", _ft(10), _ft(5), diameter, elbows=(90.0,) * count)

    def joined(table_, kind, rise, length, outlet):
        return lambda diameter: connector(
            given, table_, kind, _ft(30), _ft(rise), diameter, _ft(length), outlet=_inch(outlet)
        )

    five, six = _inch(5.0), _inch(6.0)
    furnace = joined("504.3(4)", "FAN", 3.0, 6.0, 4.0)(_inch(4.0))
    flue = common(given, "504.3(4)", "FAN+NAT", _ft(30), flue_area=LINER, smallest_outlet=_inch(4.0))
    both = common(given, "504.3(2)", "NAT+NAT", _ft(30), diameter=six, smallest_outlet=_inch(3.0))
    ours = {
        "W4a": elbowed(five, 2).maximum,
        "W4b": elbowed(five, 3).maximum,
        "W4c": elbowed(six, 3).maximum,
        "W4d": smallest("504.2(2)", lambda d: elbowed(d, 2), Q_(120.0, "MBH"), least=five)[0],
        "W4e": smallest("504.2(2)", lambda d: elbowed(d, 3), Q_(120.0, "MBH"), least=five)[0],
        "W5a": single(given, "504.2(1)", "NAT", _ft(12), _ft(5), _inch(4.0)).maximum,
        "W6a": smallest("504.3(2)", joined("504.3(2)", "NAT", 2.0, 4.0, 3.0), Q_(35.0, "MBH"))[0],
        "W6b": smallest("504.3(2)", joined("504.3(2)", "NAT", 3.0, 8.0, 5.0), Q_(150.0, "MBH"))[0],
        "W6c": six if both.allows(Q_(185.0, "MBH")) else "too small",  # no narrower than the wider connector
        "W6d": both.maximum,
        "W7a": smallest("504.3(4)", joined("504.3(4)", "NAT", 2.0, 4.0, 4.0), Q_(35.0, "MBH"))[0],
        "W7b": furnace.minimum,
        "W7c": furnace.maximum,
        "W7d": flue.maximum,
        "W7e": area_rule.times() * OUTLET_AREA,
    }
    return checked.compare("capacity_tables_checks", ours)


def area_checks() -> tuple[checked.Check, ...]:
    """The two areas that the code's example quotes, against geometry."""
    # From memory: the code's table gives the nominal 8 x 12 in. liner the area of a circle of 9.0 in.
    circles = {"V214": 9.0, "V215": 4.0}
    return checked.compare("vent_capacity_checks", {k: area_rule.round_area(_inch(d)) for k, d in circles.items()})


def rule_checks() -> tuple[checked.Check, ...]:
    """The rules around the tables, from what they do to a capacity or a length."""
    given = sampled()

    def lost(**more) -> float:
        kind = more.pop("kind", "NAT")
        whole, less = (single(given, "504.2(1)", kind, _ft(10), _ft(2), _inch(4.0), **m) for m in ({}, more))
        return round(100.0 * (1.0 - float((less.maximum / whole.maximum).m_as(""))), 9)

    ours = {
        "V501": lost(elbows=(90.0, 90.0, 45.0)),
        "V502": lost(elbows=(90.0, 90.0, 90.0)),
        "V503": lost(corrugated=True),
        "V504": lost(kind="FAN", outlet=_inch(5.0)),
        "V505": capacity_rules.rule("manifold length"),
        "V506": capacity_rules.rule("connector length"),
        "V507": area_rule.times(),
    }
    return checked.compare("vent_capacity_checks", ours)


def checks() -> tuple[checked.Check, ...]:
    """All rows that the chapter stands on, the sampled cells apart: those stand beside the physics."""
    return example_checks() + area_checks() + rule_checks()


def rules(system: str = "US") -> HTML:
    """The rules around the tables, with their section; numbers as the code has them."""
    del system
    found = tables.read("capacity_rules")
    rows = [(f"{r['value']} {r['unit']}", r["what"], r["source"], r["status"]) for r in found]
    return HTML(table(("number", "what it says", "section", "status"), rows))


def three_elbows(system: str = "US") -> HTML:
    """The code's example 1: two sizes, each with two elbows and with three."""
    rows, boiler = [], Q_(120.0, "MBH")
    for inch in (5.0, 6.0):
        for count in (2, 3):
            found = single(sampled(), "504.2(2)", "NAT", _ft(10), _ft(5), _inch(inch), elbows=(90.0,) * count)
            verdict = "acceptable" if found.allows(boiler) else "too small"
            rows.append((show(_inch(inch), system, "diameter"), str(count), show(found.maximum, system), verdict))
    return HTML(table(("vent", "elbows", "allowed", f"for {show(boiler, system)}"), rows))


def verdicts(found: Mapping[str, tuple[Limits, float]], system: str = "US") -> HTML:
    """Inputs [MBH] held against what a table allows them."""
    rows = []
    for name, (limits, heat) in found.items():
        given = Q_(heat, "MBH")
        least = "" if limits.minimum is None else f"{show(limits.minimum, system)} to "
        verdict = "acceptable" if limits.allows(given) else "not allowed"
        rows.append((name, show(given, system), least + show(limits.maximum, system), verdict))
    return HTML(table(("", "input", "allowed", "verdict"), rows))


def refusals(system: str = "US") -> HTML:
    """What the look-up refuses, and how it says so, in the tables' own units; and two notes that it keeps in sight."""
    del system
    usual = {"height": _ft(10), "lateral": _ft(2), "diameter": _inch(4.0)}
    rows = []
    for words, more in {
        "height 4 ft": {"height": _ft(4)},
        "lateral 40 ft": {"lateral": _ft(40)},
        "a cell that was not given": {"diameter": _inch(7.0)},
        "a category IV boiler": {"category": "IV"},
        "4 in. vent on a 6 in. outlet": {"outlet": _inch(6.0)},
        "an elbow on a lateral of 0": {"lateral": _ft(0), "elbows": (90.0,)},
    }.items():
        try:
            single(sampled(), "504.2(1)", "NAT", **(usual | more))
        except ValueError as error:
            rows.append((words, type(error).__name__, str(error)))
    notes = [(words, "", say("vent", "rules", key)) for words, key in NOTES.items()]
    return HTML(table(("asked", "refused as", "because"), [*rows, *notes]))


NOTES = {"note: altitude": "altitude", "note: several stories": "several_stories"}


# --- Live controls ------------------------------------------------------------------------------------------

_HEIGHTS = (6.0, 8.0, 10.0, 12.0, 15.0, 17.5, 20.0, 25.0, 30.0, 40.0, 50.0)
_LATERALS = (0.0, 2.0, 3.5, 5.0, 7.5, 10.0, 12.5, 15.0, 20.0)
_INCHES = (3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 12.0)


def controls(system: str = "US") -> dict:
    """The controls of `explorer` by name; sizes are those of the tables, in either system."""
    heights, laterals = ([(show(_ft(v), system), v) for v in values] for values in (_HEIGHTS, _LATERALS))
    diameters = [(show(_inch(v), system, "diameter"), v) for v in _INCHES]
    return {
        "column": choice("Appliance", [(words, column) for column, words in _COLUMNS.items()], "NAT max"),
        "height": slider("Height", heights, 15.0),
        "lateral": slider("Lateral", laterals, 5.0),
        "inch": slider("Diameter", diameters, 4.0),
    }


def explorer(system: str = "US") -> Panel:
    """Type B vent of one appliance: what the table says, if its cells are there, and what the physics says."""
    return Panel(partial(explorer_answer, system), controls(system))


def explorer_answer(
    system: str, *, column: str, height: float, lateral: float, inch: float
) -> tuple[str, bytes, Drawing]:
    """Table and physics for one vent (ft, ft, inch), capacity against height beside the cells, and its section."""
    diameter = _inch(inch)
    plant = vent("504.2(1)", KINDS[column], _ft(height), _ft(lateral), diameter)
    heights = np.array([h for h in _HEIGHTS if h >= lateral])
    *curve, now = vent_sizing.capacity(plant, DESIGN, height=Q_(np.append(heights, height), "ft"))
    try:
        limits = single(sampled(), "504.2(1)", column.split()[0], _ft(height), _ft(lateral), diameter)
        told, how = show(limits.maximum, system), "; ".join(step.words(system) for step in limits.how)
        ratio = f"{float((now / limits.maximum).m_as('')):.2f}"
    except ValueError as error:
        told, how, ratio = "-", str(error), "-"
    rows = [("table 504.2(1)", told, how), ("first principles", show(now, system), f"ours / table: {ratio}")]
    figure, (axes,) = row_of_axes(1, 2.9)
    x, y = number(heights, "ft", "height", system), number([q.m for q in curve], "W", "heat rate", system)
    axes.plot(x, y, "-", color=INK, lw=1.8, label="first principles")
    _plot_cells(axes, [c for c in sampled() if c.diameter == inch], column, lateral, system)
    at = number(height, "ft", "height", system), number(now.m, "W", "heat rate", system)
    axes.plot(*at, "D", ms=9, mfc="none", mew=2, color=RUST, label="now")
    plain(axes, axis("height", "height", system), axis("greatest input", "heat rate", system))
    axes.set_ylim(0.0)
    legend(axes, loc="lower right")
    at_work = vent_at_work.operate(plant, DESIGN, heat_input=now)
    drawn = section_drawing(Scan(at_work.plant, (DESIGN,), at_work.solution, 1, False), system=system)
    return table(("", "greatest input", "how"), rows), picture(figure), drawn


# --- Prediction, and what is to be written ----------------------------------------------------------------------


def prediction(system: str = "US") -> Prediction:
    """What the reader expects of physics beside the table."""
    return predict("capacity_tables", physics_beside, system)


NEAR = 0.15  # of the table: a median so near to it is called the same


def physics_beside(column: str, number: str = "504.2(1)") -> dict[str, str | int | float]:
    """The capacities from first principles over those of one table and column of the samples."""
    count, median, near, _ = summary(beside(column, number))
    right = 0 if median > 1.0 + NEAR else 1 if median >= 1.0 - NEAR else 2
    return {"right": right, "figure": median - 1.0, "count": count, "near": near, "number": number}


def writing(system: str = "US") -> Writing:
    """What lies between two lines, less the elbows, to be written by the reader."""
    return load_writing("capacity_tables", between_lines, system)


def between_lines(
    height: Quantity, lower: Quantity, upper: Quantity, low: Quantity, high: Quantity, elbows: int
) -> dict[str, Quantity]:
    """What the look-up gives between two invented lines, and what it becomes by the slips that are made with it."""
    ends = ((lower, low), (upper, high))
    given = tuple(
        Cell(
            f"line {k}",
            "504.2(1)",
            round(h.m_as("ft"), 9),
            2.0,
            4.0,
            None,
            {"NAT max": q.m_as("MBH")},
            "invented",
            "invented",
        )
        for k, (h, q) in enumerate(ends)
    )

    def found(at: Quantity, count: int) -> Quantity:
        return single(given, "504.2(1)", "NAT", at, _ft(2.0), _inch(4.0), elbows=(90.0,) * count).maximum

    plain_line, each = found(height, 2), capacity_rules.rule("elbow to 90") / 100.0
    return {
        "answer": found(height, elbows),
        "next_line": found(upper, elbows),
        "wrong_end": found(lower + upper - height, elbows),
        "all_elbows": plain_line * (1.0 - each * elbows),
        "no_elbows": plain_line,
    }


def _plot_cells(axes: Axes, cells: Sequence[Cell], column: str, lateral: float, system: str) -> None:
    """The cells of table 504.2(1), those of the lateral set apart."""
    given = [c for c in cells if c.table == "504.2(1)" and c.values.get(column)]
    for same, words, look in (
        (True, "this", {"marker": "s", "ms": 7, "mfc": BLUE, "color": BLUE}),
        (False, "another", {"marker": "o", "ms": 5, "mfc": "none", "color": GREY}),
    ):
        some = [c for c in given if (c.second == lateral) == same]
        x = number([c.height for c in some], "ft", "height", system)
        y = number([c.values[column] for c in some], "MBH", "heat rate", system)
        axes.plot(x, y, ls="none", label=f"sampled, {words} lateral", **look)


# --- Questions ------------------------------------------------------------------------------------------------


def questions(system: str = "US", seed: int | None = None) -> tuple[Exercise, ...]:
    """Questions of the chapter, with its own figures or those that ``seed`` draws."""
    return load("capacity_tables", (between, elbows, liner, largest_flue), system, seed)


def between(height: Quantity, lower: Quantity, upper: Quantity, low: Quantity, high: Quantity) -> dict:
    """What lies between two lines of a table."""
    share = float(((height - lower) / (upper - lower)).m_as(""))
    return {
        "answer": low + share * (high - low),
        "share": share,
        "tenths": round(10.0 * share),
        "wrong_end": low + (1.0 - share) * (high - low),
        "middle": 0.5 * (low + high),
        "next_line": high,
    }


def elbows(listed: Quantity) -> dict[str, Quantity]:
    """What a line allows less 10 % for a third elbow and 5 % for one of 45 degrees."""
    return {"answer": 0.85 * listed, "all_four": 0.65 * listed, "all_alike": 0.80 * listed, "nothing": listed}


def liner(least: Quantity, most: Quantity) -> dict[str, Quantity]:
    """Range of inputs on a corrugated liner."""
    return {"answer": 0.8 * most - least, "both_less": 0.8 * (most - least), "smooth": most - least}


def largest_flue(outlet: Quantity) -> dict[str, Quantity]:
    """Widest flue by the rule of seven."""
    times = area_rule.times()
    return {"answer": times**0.5 * outlet.to("m"), "diameters": times * outlet.to("m"), "itself": outlet.to("m")}
