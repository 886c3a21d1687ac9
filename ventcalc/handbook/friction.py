"""Friction, the chapter: its relined chimney, live controls, questions, and what it stands on."""

from dataclasses import dataclass, replace
from functools import cache, partial

import ipywidgets as widgets
import numpy as np
from IPython.display import HTML
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Rectangle
from matplotlib.ticker import NullFormatter, NullLocator

from ventcalc import tables
from ventcalc.checked import Check, compare
from ventcalc.flow import fittings, friction, materials, stack_effect, steam_book_stack
from ventcalc.gas import atmosphere, flue_gas
from ventcalc.gas.appliance import ENTRY_LOSS
from ventcalc.gas.flue_gas import Gas
from ventcalc.show.axes import axis, legend, mark_now, number, one_axes, picture, plain
from ventcalc.show.exercises import Exercise
from ventcalc.show.panels import Panel, choice, slider, steps, table
from ventcalc.show.plots import BLUE, GREY, INK, PALE, RUST, SIZE, WIDTH
from ventcalc.show.prediction import Prediction
from ventcalc.show.prediction import load as predict
from ventcalc.show.questions import load
from ventcalc.show.writing import Writing
from ventcalc.show.writing import load as load_writing
from ventcalc.units import GRAVITY, Q_, Quantity, show, shown_unit, unit_text

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


# The chapter's case: an old brick chimney, and the liner that was pulled through it; the flow is the boiler's flue gas
# alone, for of that what a vent cannot take spills, while of room air it only draws less.
CHIMNEY = Flow(Q_(600.0, "lb/hour"), Q_(12.0, "inch"), Q_(40.0, "ft"), Q_(1.5, "mm"), Q_(350.0, "degF"))
LINER = replace(CHIMNEY, diameter=Q_(6.0, "inch"), roughness=Q_(1.0, "mm"))


MILD = Q_(60.0, "degF")  # the autumn day on which the hood spills


def draft(flow: Flow) -> Quantity:
    """Theoretical draft of the chimney full of this gas, on a mild day."""
    return stack_effect.theoretical_draft(flow.length, atmosphere.air_density(MILD, ATMOSPHERE), flow.density)


def costs(flow: Flow) -> dict[str, Quantity]:
    """What that draft has to pay for, with all parts as wide as the pipe: so many of its velocity heads each."""
    elbow, cap = (float(fittings.fitting(name).loss) for name in ("elbow 90", "low-resistance cap"))
    heads = {
        "entry at the hood": ENTRY_LOSS["draft hood"],
        "two elbows": 2.0 * elbow,
        "friction": flow.heads_lost(),
        "cap": cap,
        "velocity head that leaves": 1.0,
    }
    return {part: n * flow.head for part, n in heads.items()}


def resized(flow: Flow, times: float) -> Flow:
    """The same flow in a pipe ``times`` as wide."""
    return replace(flow, diameter=times * flow.diameter)


def takes(flow: Flow) -> Quantity:
    """The flow that the draft pays for, with costs that go with its square."""
    return float((draft(flow) / sum(costs(flow).values())).m_as("")) ** 0.5 * flow.mass_flow


PIPES = {"old flue": CHIMNEY, "liner": LINER}


def side_by_side(system: str = "US") -> HTML:
    """Both pipes: velocity, friction factor, velocity head and friction."""
    rows = [
        (
            name,
            show(pipe.velocity, system),
            f"{pipe.reynolds:,.0f}",
            f"{pipe.factor:.4f}",
            fine(pipe.head, system),
            f"{pipe.heads_lost():.2f}",
            fine(pipe.loss, system),
        )
        for name, pipe in PIPES.items()
    ]
    return HTML(table(("", "velocity", "Re", "f", "velocity head", "heads lost", "friction"), rows))


def the_sum(system: str = "US") -> HTML:
    """All that each pipe costs, the draft that pays for it, and the flow that the draft can pay for."""
    rows = []
    for name, pipe in PIPES.items():
        told = (*costs(pipe).values(), sum(costs(pipe).values()), draft(pipe))
        rows.append((name, *(fine(q, system) for q in told), show(takes(pipe), system)))
    return HTML(table(("", *costs(LINER), "total", "draft", "takes at most"), rows))


def against_the_old(system: str = "US") -> HTML:
    """Friction factor and loss of half the width, and of the liner, over those of the old flue."""
    del system  # ratios are the same in both
    rows = [
        (words, f"{pipe.factor / CHIMNEY.factor:.2f}", f"{float((pipe.loss / CHIMNEY.loss).m_as('')):.1f}")
        for words, pipe in (("old flue, half as wide", resized(CHIMNEY, 0.5)), ("the liner", LINER))
    ]
    return HTML(table(("against the old flue", "f is times", "the loss is times"), rows))


def walls(system: str = "US") -> HTML:
    """The roughness that the library takes for each wall, and the friction factor of the liner with it."""
    by_wall: dict[Quantity, list[str]] = {}
    for name in materials.names():
        by_wall.setdefault(materials.material(name).roughness, []).append(name)
    rows = [
        (
            f"{roughness.m_as('mm'):g} mm",
            f"{replace(LINER, roughness=roughness).factor:.4f}",
            "; ".join(names),
        )
        for roughness, names in by_wall.items()
    ]
    return HTML(table(("roughness", f"f in {show(LINER.diameter, system, 'diameter')}", "walls"), rows))


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


def book_words() -> str:
    """Those ratios in a line each."""
    alone, with_exit = book_ratios()
    ends = f"{with_exit.min():.2f} to {with_exit.max():.2f}, {with_exit.mean():.2f} on average"
    return (
        f"the book's loss over that of friction alone: {alone.min():.1f} to {alone.max():.1f}\n"
        f"over friction and one velocity head at the top: {ends}"
    )


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
    along = getattr(axes, f"{which}axis")
    along.set_minor_locator(NullLocator())
    along.set_minor_formatter(NullFormatter())
    along.set_ticks(list(ticks), [f"{t:g}" for t in ticks])


ROUGHNESSES = (0.0, 0.0005, 0.002, 0.01, 0.05)
_REYNOLDS = np.geomspace(5e2, 2e6, 160)
_STYLES = ("-", "--", "-.", ":", (0, (6, 2, 1, 2, 1, 2)))


@cache
def _factors(relative_roughness: float) -> np.ndarray:
    return friction.friction_factor.bare(_REYNOLDS, relative_roughness)


def factor_chart(*points: tuple[str, Flow]) -> Figure:
    """Darcy's friction factor over the Reynolds number, with named flows marked on it."""
    figure, axes = one_axes(3.6)
    _draw_factors(axes, points)
    return figure


def _draw_factors(axes: Axes, points) -> None:
    for eps, style in zip(ROUGHNESSES, _STYLES, strict=True):
        axes.plot(_REYNOLDS, _factors(eps), ls=style, color=GREY, lw=1.3)
        axes.text(2.2e6, _factors(eps)[-1], f"{eps:g}", size=SIZE, color=INK, va="center")
    axes.text(2.2e6, 0.105, "rough-\nness/D", size=SIZE, color=INK, va="center")
    axes.axvspan(friction.LAMINAR_LIMIT, friction.TURBULENT_LIMIT, color=PALE, zorder=0)
    styles = (("o", BLUE, (0, 44), "center"), ("D", RUST, (10, -4), "left"))
    for (name, flow), (mark, color, offset, side) in zip(points, styles, strict=False):
        here = (flow.reynolds, flow.factor)
        axes.plot(*np.array([here]).T, mark, ms=9, color=color, zorder=5)
        axes.annotate(name, here, xytext=offset, textcoords="offset points", ha=side, size=SIZE,
                      arrowprops={"arrowstyle": "-", "color": GREY, "lw": 0.8})  # fmt: skip
    logarithmic(axes, "x", ())
    logarithmic(axes, "y", (0.01, 0.02, 0.03, 0.05, 0.1))
    axes.set_xticks((1e3, 1e4, 1e5, 1e6), ("1,000", "10,000", "100,000", "1,000,000"))
    axes.set(xlim=(5e2, 1.9e6), ylim=(0.009, 0.13))
    plain(axes, "Reynolds number", "friction factor f")


def ratio_chart(system: str = "US") -> Figure:
    """The steam book's stack loss over Darcy-Weisbach's, for every cell of its table."""
    figure, axes = one_axes()
    wide = [book_flow(r).diameter.m_as(shown_unit("diameter", system)) for r in table_53()]
    alone, with_exit = book_ratios()
    axes.plot(wide, alone, "o", color=RUST, ms=6, label="friction alone")
    axes.plot(wide, with_exit, "D", color=BLUE, ms=5, label="friction and one velocity head at the top")
    axes.axhline(1.0, color=INK, lw=0.8)
    axes.set_ylim(0.0, 8.2)
    legend(axes, loc="upper right")
    plain(axes, axis("stack diameter of the table", "diameter", system), "book's loss / ours")
    return figure


# --- Live controls ---------------------------------------------------------------------------------------------

_CURVE = np.geomspace(0.06, 1.0, 60)  # m


WALLS = {"smooth": 0.0, "clean steel, 0.15 mm": 0.15, "vent, aged, 1 mm": 1.0, "masonry, 1.5 mm": 1.5,
         "rusted or sooted, 3 mm": 3.0}  # fmt: skip
FLOWS = {"us": (10, 20, 50, 100, 200, 400, 600, 800, 1000, 2000, 4000, 8000),
         "si": (0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.075, 0.1, 0.15, 0.25, 0.5, 1.0)}  # fmt: skip


def explorer(system: str = "US") -> Panel:
    """One pipe: its diameter, flow, length, temperature and wall; what it loses, and what its neighbors would.

    At first the liner; values plain SI, roughness in mm.
    """
    sliders = {
        "diameter": ("Diameter", steps("diameter", system, range(3, 37), range(75, 925, 25))),
        "mass_flow": ("Flue gas flow", steps("mass flow", system, **FLOWS)),
        "length": ("Length", steps("height", system, range(5, 125, 5), range(2, 41, 2))),
        "temperature": ("Gas temperature", steps("temperature", system, range(50, 801, 25), range(10, 431, 15))),
    }
    controls: dict[str, widgets.Widget] = {
        name: slider(words, options, float(getattr(LINER, name).to_base_units().m))
        for name, (words, options) in sliders.items()
    }
    controls["roughness"] = choice("Wall", WALLS.items(), LINER.roughness.m_as("mm"))
    return Panel(partial(explorer_answer, system), controls)


def explorer_answer(
    system: str, *, diameter: float, mass_flow: float, length: float, temperature: float, roughness: float
) -> tuple[str, bytes]:
    """Numbers and picture of one flow; diameter and length [m], mass_flow [kg/s], temperature [K], roughness [mm]."""
    flow = Flow(Q_(mass_flow, "kg/s"), Q_(diameter, "m"), Q_(length, "m"), Q_(roughness, "mm"), Q_(temperature, "K"))
    spent, pull = sum(costs(flow).values()), draft(flow)
    draws = bool(spent <= pull)
    words = "It draws" if draws else "It spills at the hood"
    against = f"hood, elbows, friction, cap and exit cost {fine(spent, system)}, the draft is {fine(pull, system)}"
    rows = [
        ("velocity", show(flow.velocity, system)),
        ("Reynolds number", f"{flow.reynolds:,.0f}, {_kind(flow.reynolds)}"),
        ("friction factor f", f"{flow.factor:.4f}"),
        ("velocity head", fine(flow.head, system)),
        ("loss by friction", f"{fine(flow.loss, system)}: {flow.heads_lost():.2f} velocity heads"),
    ]
    half, double = (resized(flow, times).loss for times in (0.5, 2.0))
    rows.append(("half the diameter", f"{(half / flow.loss).m_as(''):.1f} times the loss, {fine(half, system)}"))
    rows.append(("twice the diameter", f"1/{(flow.loss / double).m_as(''):.1f} of the loss, {fine(double, system)}"))
    told = f"<p><b>{words}</b> on a mild day: {against}.</p>".replace("w.c..", "w.c.")
    return told + table(("", "this pipe"), rows), picture(_explorer_drawing(flow, system))


def _kind(reynolds: float) -> str:
    if friction.LAMINAR_LIMIT < reynolds < friction.TURBULENT_LIMIT:
        return "between the two"
    return "laminar" if reynolds <= friction.LAMINAR_LIMIT else "turbulent"


def fine(pressure: Quantity, system: str) -> str:
    """A small pressure with a digit more than a gauge would show."""
    unit, places = ("inH2O", 4) if system == "US" else ("Pa", 2)
    value = float(pressure.m_as(unit))
    return f"{value:,.{places if abs(value) < 1.0 else 1}f} {unit_text(unit)}"


def _explorer_drawing(flow: Flow, system: str) -> Figure:
    figure = Figure((WIDTH, 3.5))
    _draw_section(figure.add_axes((0.0, 0.02, 0.34, 0.96)), flow, system)
    _draw_costs(figure.add_axes((0.46, 0.16, 0.52, 0.76)), flow, system)
    return figure


def _draw_section(axes: Axes, flow: Flow, system: str) -> None:
    """The pipe in the old flue, from above, to one scale; a pipe that is wider stands round it."""
    wide, bore = float(CHIMNEY.diameter.m_as("m")), float(flow.diameter.m_as("m"))
    brick = 0.75 * max(wide, bore)
    axes.add_patch(Rectangle((-brick, -brick), 2 * brick, 2 * brick, fc="white", ec=INK, hatch="////", lw=1.2))
    if bore < wide:
        axes.add_patch(Circle((0, 0), wide / 2, fc="white", ec=INK, lw=1.2))
    axes.add_patch(Circle((0, 0), bore / 2, fc=PALE, ec=INK, lw=1.6))
    if bore > wide:
        axes.add_patch(Circle((0, 0), wide / 2, fill=False, ec=INK, lw=1.0, ls=":"))
    axes.set(xlim=(-1.04 * brick, 1.04 * brick), ylim=(-1.45 * brick, 1.25 * brick), aspect="equal")
    axes.axis("off")
    axes.text(0, 1.1 * brick, f"pipe {show(flow.diameter, system, 'diameter')}", ha="center", size=SIZE, weight="bold")
    axes.text(0, -1.25 * brick, f"old flue {show(CHIMNEY.diameter, system, 'diameter')}", ha="center", size=SIZE)


def _draw_costs(axes: Axes, flow: Flow, system: str) -> None:
    """What this flow costs in every diameter: friction, and all that the draft has to pay; the draft that pays."""
    x = number(_CURVE, "m", "diameter", system)
    losses = friction.pressure_loss.bare(
        flow.mass_flow.m_as("kg/s"), flow.density.m_as("kg/m**3"), _CURVE, flow.length.m_as("m"),
        flow.roughness.m_as("m"), flow.viscosity.m_as("Pa*s"),
    )  # fmt: skip
    besides = float((sum(costs(flow).values()) - flow.loss).m_as("Pa"))
    all_of_it = losses + besides * (flow.diameter.m_as("m") / _CURVE) ** 4
    axes.plot(x, number(all_of_it, "Pa", "draft", system), "--", color=INK, lw=1.6, label="total")
    axes.plot(x, number(losses, "Pa", "draft", system), "-", color=GREY, lw=1.6, label="friction")
    unit, wide = shown_unit("draft", system), shown_unit("diameter", system)
    here, pull = float(sum(costs(flow).values()).m_as(unit)), float(draft(flow).m_as(unit))
    logarithmic(axes, "x", (3, 6, 12, 24, 36) if system == "US" else (75, 150, 300, 600, 900))
    middle = pull if pull > 0.0 else here
    decade = int(np.floor(np.log10(middle)))
    low, high = min(middle / 120, here / 3), max(middle * 120, here * 3)
    logarithmic(axes, "y", [t for t in (float(f"1e{decade + k}") for k in range(-4, 6)) if low <= t <= high])
    if pull > 0.0:
        axes.axhline(pull, color=BLUE, lw=1.4, ls=":", label="draft, mild day")
    others = [resized(flow, times) for times in (0.5, 2.0)]
    axes.plot([pipe.diameter.m_as(wide) for pipe in others], [pipe.loss.m_as(unit) for pipe in others], "s", ms=6,
              color=BLUE, zorder=4, label="half, twice as wide")  # fmt: skip
    axes.plot([flow.diameter.m_as(wide)], [flow.loss.m_as(unit)], "D", ms=7, color=RUST, zorder=5)
    mark_now(axes, float(flow.diameter.m_as(wide)), here, "this pipe", zorder=5)
    axes.set(xlim=(2.4, 40) if system == "US" else (60, 1000), ylim=(low, high))
    plain(axes, axis("diameter", "diameter", system), axis("loss", "draft", system))
    legend(axes, loc="upper right", labelspacing=0.2)


# --- Prediction, and what is to be written ----------------------------------------------------------------------


def prediction(system: str = "US") -> Prediction:
    """What the reader expects of half the width."""
    return predict("friction", half_as_wide, system)


GUESSES = (4.0, 16.0, 32.0)  # times: velocity alone, its square, and that over twice as many diameters


def half_as_wide(wide: Quantity, narrow: Quantity, system: str) -> dict[str, Quantity | float | str]:
    """What friction costs in the old flue and in the liner, of these bores, and the guess that its rise is nearest."""
    before, after = replace(CHIMNEY, diameter=wide), replace(LINER, diameter=narrow)
    times = float((after.loss / before.loss).m_as(""))
    return {
        "right": min(range(3), key=lambda k: abs(np.log(times / GUESSES[k]))),
        "figure": after.loss,
        "before": fine(before.loss, system),
        "times": times,
        "heads": float((after.head / before.head).m_as("")),
    }


def writing(system: str = "US") -> Writing:
    """The loss of a straight pipe, to be written by the reader."""
    return load_writing("friction", straight_pipe, system)


def straight_pipe(
    factor: float, length: Quantity, diameter: Quantity, density: Quantity, velocity: Quantity, system: str
) -> dict[str, Quantity]:
    """Loss by Darcy and Weisbach, and what it becomes by the slips that are made with it."""
    us = system == "US"
    answer = factor * float((length / diameter).m_as("")) * friction.velocity_head(density, velocity)
    return {
        "answer": answer,
        "one_unit": answer / (12.0 if us else 1000.0),
        "no_half": 2.0 * answer,
        "fanning": 4.0 * answer,
        "not_squared": answer / velocity.m_as("ft/s" if us else "m/s"),
    }


# --- Questions ---------------------------------------------------------------------------------------------------


def questions(system: str = "US", seed: int | None = None) -> tuple[Exercise, ...]:
    """Questions of the chapter, with its own figures or those that ``seed`` draws."""
    return load("friction", (velocity_head, loss, halved, wide_enough), system, seed)


def velocity_head(density: Quantity, speed: Quantity, system: str) -> dict[str, Quantity | float]:
    """Velocity head of a gas, and what a stray g makes of it in the units of one system."""
    head = friction.velocity_head(density, speed)
    return {
        "answer": head,
        "twice": 2 * head,
        "stray_g": 32.174 * head if system == "US" else head / GRAVITY,
    }


def loss(factor: float, length: Quantity, bore: Quantity, head: Quantity, system: str) -> dict[str, Quantity | float]:
    """Loss by friction in a vent, and what two units of length make of it in one system."""
    long, wide = ("ft", "inch") if system == "US" else ("m", "mm")
    ratio = float((length / bore).m_as(""))
    answer = factor * ratio * head
    return {
        "answer": answer,
        "ratio": ratio,
        "heads": factor * ratio,
        "mixed": factor * float(length.m_as(long)) / float(bore.m_as(wide)) * head,
        "fanning": answer / 4,
        "with_exit": answer + head,
    }


def halved(wide: Quantity, before: Quantity, system: str) -> dict[str, Quantity | str]:
    """Loss by friction in a vent relined to half its diameter."""
    return {
        "answer": 32 * before,
        "narrow": wide / 2,
        "cost": fine(before, system),
        "as_head": 16 * before,
        "as_speed": 4 * before,
        "cubed": 8 * before,
    }


def wide_enough(bore: Quantity, now: Quantity, share: float) -> dict[str, Quantity | float]:
    """Diameter at which friction costs ``share`` of what it does now."""
    ratio = 1 / share
    return {
        "answer": bore * ratio**0.2,
        "allowed": share * now,
        "ratio": ratio,
        "straight": bore * ratio,
        "fourth_root": bore * ratio**0.25,
        "root": bore * ratio**0.5,
    }
