"""Friction, the chapter: its relined chimney, live controls, questions, and what it stands on."""

from dataclasses import dataclass, replace
from functools import cache, partial

import ipywidgets as widgets
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Rectangle
from matplotlib.ticker import NullFormatter, NullLocator

from ventcalc import tables
from ventcalc.checked import Check, compare
from ventcalc.flow import friction, steam_book_stack
from ventcalc.gas import flue_gas
from ventcalc.gas.flue_gas import Gas
from ventcalc.show.axes import DOTS, label, plain
from ventcalc.show.exercises import Exercise, Slip
from ventcalc.show.panels import Panel, choice, slider, table
from ventcalc.show.plots import BLUE, GREY, INK, PALE, RUST, SIZE, WIDTH, png
from ventcalc.units import Q_, Quantity, show, shown_unit, unit_text

ATMOSPHERE = Q_(101325.0, "Pa")


# --- Flow in one pipe, on flue gas taken for air ----------------------------------------------------------


@dataclass(frozen=True)
class Flow:
    """A flow through one pipe; each property follows from the library, as a quantity."""

    mass_flow: Quantity
    diameter: Quantity
    length: Quantity
    roughness: Quantity
    temperature: Quantity

    @property
    def density(self) -> Quantity:
        """Density at sea level; the gas is taken for air, which is 2 to 4 % denser than flue gas of natural gas."""
        return flue_gas.density(Gas.dry_air(), self.temperature, ATMOSPHERE)

    @property
    def viscosity(self) -> Quantity:
        """Viscosity of air at the gas temperature."""
        return flue_gas.viscosity(Gas.dry_air(), self.temperature)

    @property
    def velocity(self) -> Quantity:
        """Mean velocity."""
        return friction.velocity(self.mass_flow, self.density, self.diameter)

    @property
    def head(self) -> Quantity:
        """Velocity head."""
        return friction.velocity_head(self.density, self.velocity)

    @property
    def reynolds(self) -> float:
        """Reynolds number."""
        return friction.reynolds(self.mass_flow, self.diameter, self.viscosity).m_as("")

    @property
    def relative_roughness(self) -> float:
        """Roughness over diameter."""
        return (self.roughness / self.diameter).m_as("")

    @property
    def factor(self) -> float:
        """Darcy's friction factor."""
        return friction.friction_factor(self.reynolds, self.relative_roughness).m_as("")

    @property
    def loss(self) -> Quantity:
        """Loss by friction along the pipe."""
        return friction.pressure_loss(
            self.mass_flow, self.density, self.diameter, self.length, self.roughness, self.viscosity
        )

    def heads_lost(self) -> float:
        """The loss in velocity heads, f L / D."""
        return (self.loss / self.head).m_as("")


# The chapter's case: an old brick chimney, and the liner that was pulled through it.
CHIMNEY = Flow(Q_(400.0, "lb/hour"), Q_(12.0, "inch"), Q_(40.0, "ft"), Q_(1.5, "mm"), Q_(350.0, "degF"))
LINER = replace(CHIMNEY, diameter=Q_(6.0, "inch"), roughness=Q_(1.0, "mm"))


def resized(flow: Flow, times: float) -> Flow:
    """The same flow in a pipe ``times`` as wide."""
    return replace(flow, diameter=times * flow.diameter)


# --- What the chapter stands on -------------------------------------------------------------------------------

# Table 53 of the steam book is not printed with its f. It prints 0.0011 at 350 F and 0.0015 at 600 F for steel;
# 0.0014 at 500 F fits all 35 cells best (least squares).
TABLE_53_FRICTION = 0.0014
CLEAN_STEEL = Q_(0.15, "mm")  # roughness in most textbooks; from memory


def table_53() -> tuple[dict[str, str], ...]:
    """The rows of the steam book's table of available draft."""
    return tuple(r for r in tables.read("draft_checks") if r["source"].endswith("Table 53"))


def book_flow(row: dict[str, str]) -> Flow:
    """The stack of one such row as a flow of hot air in clean steel."""
    return Flow(
        Q_(100.0 * float(row["horsepower"]), "lb/hour"),
        Q_(float(row["diameter_in"]), "inch"),
        Q_(float(row["height_ft"]), "ft"),
        CLEAN_STEEL,
        Q_(float(row["gas_F"]), "degF"),
    )


def book_friction(row: dict[str, str]) -> Quantity:
    """The book's own loss for one such row, formula (26)."""
    flow = book_flow(row)
    return steam_book_stack.steam_book_stack_friction(flow.mass_flow, flow.length, flow.diameter, TABLE_53_FRICTION)


def book_ratios() -> tuple[np.ndarray, np.ndarray]:
    """The book's loss over Darcy-Weisbach's, row by row: over friction alone, and with the head that leaves added."""
    pairs = [(book_friction(row), book_flow(row)) for row in table_53()]
    alone = [(book / flow.loss).m_as("") for book, flow in pairs]
    with_exit = [(book / (flow.loss + flow.head)).m_as("") for book, flow in pairs]
    return np.array(alone), np.array(with_exit)


def checks() -> tuple[Check, ...]:
    """Colebrook and laminar rows, then the available draft of Table 53 by the book's own formulas."""
    rows = {r["id"]: r for r in tables.read("losses_checks") if "friction factor" in r["quantity"]}
    ours = {
        key: friction.friction_factor(float(r["reynolds"]), float(r["relative_roughness"] or 0.0))
        for key, r in rows.items()
    }
    printed = next(float(r["value"]) for r in tables.read("draft_checks") if r["id"] == "D015")  # K at 500 F
    made = {r["id"]: Q_(printed, "inH2O/ft") * book_flow(r).length - book_friction(r) for r in table_53()}
    return compare("losses_checks", ours) + compare("draft_checks", made)


# --- Figures ---------------------------------------------------------------------------------------------------


def logarithmic(axes: Axes, which: str, ticks) -> None:
    """A logarithmic axis with ticks and plain numbers of our own: minor ones cost time and say little."""
    getattr(axes, f"set_{which}scale")("log")
    axis = getattr(axes, f"{which}axis")
    axis.set_minor_locator(NullLocator())
    axis.set_minor_formatter(NullFormatter())
    axis.set_ticks(list(ticks), [f"{t:g}" for t in ticks])


def cross_section(system: str = "US") -> Figure:
    """The old chimney and the liner in it, from above, to one scale."""
    unit = shown_unit("diameter", system)
    figure = Figure((WIDTH, 2.5))
    for i, (flow, name) in enumerate(((CHIMNEY, "as it was"), (LINER, "relined"))):
        axes = figure.add_axes((0.06 + 0.49 * i, 0.16, 0.42, 0.8))
        wide = float(CHIMNEY.diameter.m_as(unit))
        axes.add_patch(Rectangle((-0.75 * wide,) * 2, 1.5 * wide, 1.5 * wide, fc="white", ec=INK, hatch="////", lw=1.2))
        for bore, fill in ((wide, "white"), (float(flow.diameter.m_as(unit)), PALE)):
            axes.add_patch(Circle((0, 0), bore / 2, fc=fill, ec=INK, lw=1.2))
        axes.set(xlim=(-0.8 * wide, 0.8 * wide), ylim=(-0.8 * wide, 0.8 * wide), aspect="equal")
        axes.axis("off")
        axes.text(0, 0, show(flow.diameter, system, "diameter"), ha="center", va="center", size=SIZE + 1, weight="bold")
        figure.text(0.27 + 0.49 * i, 0.04, f"{name}: gas in the toned bore", ha="center", size=SIZE, color=INK)
    return figure


ROUGHNESSES = (0.0, 0.0005, 0.002, 0.01, 0.05)
_REYNOLDS = np.geomspace(5e2, 2e6, 160)
_STYLES = ("-", "--", "-.", ":", (0, (6, 2, 1, 2, 1, 2)))


@cache
def _factors(relative_roughness: float) -> np.ndarray:
    return friction.friction_factor.bare(_REYNOLDS, relative_roughness)


def factor_chart(*points: tuple[str, Flow]) -> Figure:
    """Darcy's friction factor over the Reynolds number, with named flows marked on it."""
    figure = Figure((WIDTH, 3.6), layout="constrained")
    _draw_factors(figure.subplots(), points)
    return figure


def _draw_factors(axes: Axes, points) -> None:
    for eps, style in zip(ROUGHNESSES, _STYLES, strict=True):
        axes.plot(_REYNOLDS, _factors(eps), ls=style, color=GREY, lw=1.3)
        axes.text(2.2e6, _factors(eps)[-1], f"{eps:g}", size=SIZE, color=INK, va="center")
    axes.text(2.2e6, 0.105, "rough-\nness/D", size=SIZE, color=INK, va="center")
    axes.axvspan(friction.LAMINAR_LIMIT, friction.TURBULENT_LIMIT, color=PALE, zorder=0)
    styles = (("o", BLUE, (-8, 9), "right"), ("D", RUST, (8, -16), "left"))
    for (name, flow), (mark, colour, offset, side) in zip(points, styles, strict=False):
        here = (flow.reynolds, flow.factor)
        axes.plot(*np.array([here]).T, mark, ms=9, color=colour, zorder=5)
        axes.annotate(name, here, xytext=offset, textcoords="offset points", ha=side, size=SIZE)
    logarithmic(axes, "x", (1e3, 1e4, 1e5, 1e6))
    logarithmic(axes, "y", (0.01, 0.02, 0.03, 0.05, 0.1))
    axes.set_xticks((1e3, 1e4, 1e5, 1e6), ("1,000", "10,000", "100,000", "1,000,000"))
    axes.set(xlim=(5e2, 1.9e6), ylim=(0.009, 0.13))
    plain(axes, "Reynolds number", "friction factor f")


def ratio_chart(system: str = "US") -> Figure:
    """The steam book's stack loss over Darcy-Weisbach's, for every cell of its table."""
    figure = Figure((WIDTH, 3.0), layout="constrained")
    axes = figure.subplots()
    wide = [book_flow(r).diameter.m_as(shown_unit("diameter", system)) for r in table_53()]
    alone, with_exit = book_ratios()
    axes.plot(wide, alone, "o", color=RUST, ms=6, label="friction alone")
    axes.plot(wide, with_exit, "D", color=BLUE, ms=5, label="friction and one velocity head at the top")
    axes.axhline(1.0, color=INK, lw=0.8)
    axes.set_ylim(0.0, 8.2)
    axes.legend(fontsize=SIZE, frameon=False, loc="upper right")
    plain(axes, f"stack diameter of the table, {label('diameter', system)}", "book's loss / ours")
    return figure


# --- Live controls ---------------------------------------------------------------------------------------------

_CURVE = np.geomspace(0.06, 1.0, 60)  # m


def explorer(system: str = "US") -> Panel:
    """One pipe: its diameter, flow, length, temperature and wall; what it loses, and what its neighbours would."""

    return Panel(partial(explorer_answer, system), controls(system))


def controls(system: str) -> dict[str, widgets.Widget]:
    """The controls of `explorer` by name, at first those of the liner; values plain SI, roughness in mm."""
    steps = {
        "diameter": ("Diameter", "diameter", {"US": ("inch", range(3, 37)), "SI": ("mm", range(75, 925, 25))}),
        "mass_flow": (
            "Flue gas flow", "mass flow",
            {"US": ("lb/hour", (10, 20, 50, 100, 200, 400, 700, 1000, 2000, 4000, 8000)),
             "SI": ("kg/s", (0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.15, 0.25, 0.5, 1.0))},
        ),
        "length": ("Length", "height", {"US": ("ft", range(5, 125, 5)), "SI": ("m", range(2, 41, 2))}),
        "temperature": (
            "Gas temperature", "temperature", {"US": ("degF", range(50, 801, 25)), "SI": ("degC", range(10, 431, 15))}
        ),
    }  # fmt: skip
    found: dict[str, widgets.Widget] = {}
    for name, (words, kind, by_system) in steps.items():
        unit, values = by_system[system]
        base = getattr(LINER, name).to_base_units()
        pairs = [(Q_(float(v), unit), v) for v in values]
        options = [(show(q, system, kind), float(q.to_base_units().magnitude)) for q, _ in pairs]
        found[name] = slider(words, options, float(base.magnitude))
    walls = (("smooth", 0.0), ("clean steel, 0.15 mm", 0.15), ("vent, aged, 1 mm", 1.0), ("masonry, 1.5 mm", 1.5),
             ("rusted or sooted, 3 mm", 3.0))  # fmt: skip
    found["roughness"] = choice("Wall", walls, 1.0)
    return found


def explorer_answer(
    system: str, *, diameter: float, mass_flow: float, length: float, temperature: float, roughness: float
) -> tuple[str, bytes]:
    """Numbers and picture of one flow; diameter and length [m], mass_flow [kg/s], temperature [K], roughness [mm]."""
    flow = Flow(Q_(mass_flow, "kg/s"), Q_(diameter, "m"), Q_(length, "m"), Q_(roughness, "mm"), Q_(temperature, "K"))
    half, double = (resized(flow, times) for times in (0.5, 2.0))
    kind = "laminar" if flow.reynolds <= friction.LAMINAR_LIMIT else "turbulent"
    kind = kind if not friction.LAMINAR_LIMIT < flow.reynolds < friction.TURBULENT_LIMIT else "between the two"
    rows = [
        ("velocity", show(flow.velocity, system)),
        ("Reynolds number", f"{flow.reynolds:,.0f}, {kind}"),
        ("friction factor f", f"{flow.factor:.4f}"),
        ("velocity head", fine(flow.head, system)),
        ("loss by friction", f"{fine(flow.loss, system)}: {flow.heads_lost():.2f} velocity heads"),
        ("half the diameter", f"{(half.loss / flow.loss).m_as(''):.1f} times the loss, {fine(half.loss, system)}"),
        ("twice the diameter", f"1/{(flow.loss / double.loss).m_as(''):.1f} of the loss, {fine(double.loss, system)}"),
    ]
    return table(("", "this pipe"), rows), png(_explorer_drawing(flow, system), DOTS)


def fine(pressure: Quantity, system: str) -> str:
    """A small pressure with a digit more than a gauge would show."""
    unit, places = ("inH2O", 4) if system == "US" else ("Pa", 2)
    value = float(pressure.m_as(unit))
    return f"{value:,.{places if abs(value) < 1.0 else 1}f} {unit_text(unit)}"


def _explorer_drawing(flow: Flow, system: str) -> Figure:
    figure = Figure((WIDTH, 3.1))
    left, right = figure.add_axes((0.11, 0.18, 0.34, 0.76)), figure.add_axes((0.57, 0.18, 0.335, 0.76))
    draft, wide = shown_unit("draft", system), shown_unit("diameter", system)
    losses = friction.pressure_loss.bare(
        flow.mass_flow.m_as("kg/s"), flow.density.m_as("kg/m**3"), _CURVE, flow.length.m_as("m"),
        flow.roughness.m_as("m"), flow.viscosity.m_as("Pa*s"),
    )  # fmt: skip
    left.plot(Q_(_CURVE, "m").m_as(wide), Q_(losses, "Pa").m_as(draft), color=GREY, lw=1.5)
    for pipe, mark, colour in ((flow, "D", RUST), (resized(flow, 0.5), "o", BLUE), (resized(flow, 2.0), "o", BLUE)):
        left.plot([pipe.diameter.m_as(wide)], [pipe.loss.m_as(draft)], mark, ms=8, color=colour, zorder=4)
    logarithmic(left, "x", (3, 6, 12, 24, 36) if system == "US" else (75, 150, 300, 600, 900))
    here = float(flow.loss.m_as(draft))
    decade = np.floor(np.log10(here))
    logarithmic(left, "y", [float(f"1e{int(decade + k)}") for k in range(-2, 4)])
    left.set(xlim=(2.4, 40) if system == "US" else (60, 1000), ylim=(here / 120, here * 120))
    plain(left, f"diameter, {label('diameter', system)}", f"loss by friction, {label('draft', system)}")
    _draw_factors(right, (("", flow),))
    right.lines[-1].set(color=RUST, marker="D")
    right.set_xticks((1e3, 1e4, 1e5, 1e6), ("1e3", "1e4", "1e5", "1e6"))
    return figure


# --- Questions ---------------------------------------------------------------------------------------------------


def _form(system: str) -> tuple[str, Quantity]:
    """Form of an answer in draft, and a tolerance that forgives rounding."""
    return ("0.050 inH2O", Q_(0.002, "inH2O")) if system == "US" else ("12 Pa", Q_(0.5, "Pa"))


def questions(system: str = "US") -> tuple[Exercise, ...]:
    """Questions of the chapter on friction."""
    return (_head(system), _loss(system), _halved(system), _wide_enough(system))


def _head(system: str) -> Exercise:
    density, speed = Q_(0.8, "kg/m**3"), Q_(30.0, "ft/s")
    expected = friction.velocity_head(density, speed)
    form, near = _form(system)
    said = [show(q, system) for q in (speed, density)]
    return Exercise(
        question=f"Flue gas of {said[1]} flows at {said[0]}. How large is its velocity head?",
        expected=expected,
        tolerance=near,
        hints=(
            "It is rho v² / 2.",
            "In SI: 0.8 kg/m³ and 9.14 m/s give pascals; 249 Pa make 1 in. w.c.",
        ),
        solution=f"rho v² / 2 = {show(expected, system)}.",
        slips=(
            Slip(2 * expected, "The half was forgotten: the head is rho v² / 2."),
            Slip(expected * 32.174, "In US units lb/ft³ is mass: divide by 32.17 for a pressure in lb-force per ft²."),
        ),
        example=form,
    )


def _loss(system: str) -> Exercise:
    factor, length, bore, head = 0.033, Q_(35.0, "ft"), Q_(8.0, "inch"), Q_(0.030, "inH2O")
    expected = factor * (length / bore).m_as("") * head
    _, near = _form(system)
    said = [show(length, system), show(bore, system, "diameter"), show(head, system)]
    mixed = factor * float(length.m_as("ft")) / 8.0 * head
    return Exercise(
        question=(
            f"A vent of {said[1]} is {said[0]} long. Its friction factor is {factor}, its velocity head {said[2]}. "
            "What does friction cost?"
        ),
        expected=expected,
        tolerance=near,
        hints=("f L / D velocity heads.", "L and D in the same unit: L / D = 52.5 here."),
        solution=f"0.033 x 52.5 = {factor * 52.5:.2f} velocity heads: {show(expected, system)}.",
        slips=(
            Slip(mixed, "Feet were divided by inches: L and D need one unit."),
            Slip(expected / 4, "That is with a factor a quarter as large; Fanning's f is a quarter of Darcy's."),
            Slip(expected + head, "That counts the head which leaves at the top as well; asked is friction alone."),
        ),
        example="0.100 inH2O" if system == "US" else "25 Pa",
    )


def _halved(system: str) -> Exercise:
    wide, narrow, before = Q_(10.0, "inch"), Q_(5.0, "inch"), Q_(0.002, "inH2O")
    expected = before * 2.0**5
    form, near = _form(system)
    said = [show(q, system, "diameter") for q in (wide, narrow)]
    return Exercise(
        question=(
            f"Friction in a vent of {said[0]} costs {fine(before, system)}. It is relined to {said[1]}; flow, length "
            "and friction factor stay. What does it cost now?"
        ),
        expected=expected,
        tolerance=near,
        hints=(
            "How does v go with D? How does the loss go with v?",
            "v goes with 1/D², its square with 1/D⁴, and L/D adds one.",
        ),
        solution=f"2⁵ = 32 times as much: {show(expected, system)}.",
        slips=(
            Slip(16 * before, "That is the velocity head's rise; L/D doubles as well."),
            Slip(4 * before, "That is the velocity's rise; the loss goes with its square, and with L/D."),
            Slip(8 * before, "The area is a quarter, so v is four times as large and its square sixteen times."),
        ),
        example=form,
    )


def _wide_enough(system: str) -> Exercise:
    bore, now, allowed = Q_(8.0, "inch"), Q_(0.080, "inH2O"), Q_(0.030, "inH2O")
    ratio = float((now / allowed).m_as(""))
    expected = bore * ratio**0.2
    said = [show(bore, system, "diameter"), show(now, system), show(allowed, system)]
    return Exercise(
        question=(
            f"Friction in a vent of {said[0]} costs {said[1]}; no more than {said[2]} may be spent. How wide must it "
            "be at least, with the same flow, length and friction factor?"
        ),
        expected=expected,
        tolerance=Q_(0.1, "inch"),
        hints=("The loss goes with 1/D⁵.", f"D must grow by the fifth root of {ratio:.2f}."),
        solution=(
            f"{said[0]} x {ratio:.2f}^(1/5) = {show(expected, system, 'diameter')}: a fifth wider, "
            "and not twice as wide."
        ),
        slips=(
            Slip(bore * ratio, "The diameter does not go in proportion to the loss; the loss goes with 1/D⁵."),
            Slip(bore * ratio**0.25, "That is for a velocity head; friction has L/D besides, so the fifth root."),
            Slip(bore * ratio**0.5, "The loss goes with 1/D⁵, not with the area."),
        ),
        example="9.0 inch" if system == "US" else "230 mm",
    )
