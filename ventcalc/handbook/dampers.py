"""Dampers, the chapter: the swimming hall's overdraft, its damper, live controls, questions and checks."""

from dataclasses import dataclass
from functools import cache, partial

import numpy as np
from IPython.display import HTML
from matplotlib.figure import Figure

from ventcalc import tables
from ventcalc.checked import Check, compare
from ventcalc.draft import (
    damper_authority,
    damper_leakage,
    damper_loss,
    damper_sizing,
    dampers,
    held_pressure,
)
from ventcalc.draft.damper_leakage import leakage_class
from ventcalc.draft.damper_sizing import Duties, Rating
from ventcalc.draft.dampers import Damper
from ventcalc.gas.atmosphere import STANDARD_AIR
from ventcalc.job import job_file
from ventcalc.show.axes import axis, legend, number, picture, plain, row_of_axes
from ventcalc.show.exercises import Exercise
from ventcalc.show.panels import Panel, choice, slider, table
from ventcalc.show.plots import BLUE, GREY, INK, RUST, SIZE
from ventcalc.show.prediction import Prediction
from ventcalc.show.prediction import load as predict
from ventcalc.show.questions import load
from ventcalc.show.writing import Writing
from ventcalc.show.writing import load as load_writing
from ventcalc.units import Q_, Quantity, show
from ventcalc.vent import end_of_header, firing_states, outlet_envelope
from ventcalc.vent.layout import Plant, Section
from ventcalc.vent.network import SIZE_CHANGE_ANGLE
from ventcalc.words import told

FINE_STEP = 0.5 * damper_sizing.ACTUATOR_STEP  # of a better actuator
TOLERANCE = Q_(0.025, "inH2O")  # a quarter of what the swimming hall's boilers bear either way; the chapter's choice
LEAKAGE = "EN class 2"
SHAFT = Q_(0.375, "inch")  # blade and shaft across the flow (invented)
BLADES = 4


# --- What the chapter stands on -----------------------------------------------------------------------------


def checks() -> tuple[Check, ...]:
    """Slopes and coefficients between tabled angles, leakage, authority, the installed flow, faces in a round duct."""
    return compare("dampers_checks", {r["id"]: _ours(r) for r in tables.read("dampers_checks")})


def _ours(row):
    kind = row["quantity"]
    if kind.startswith("slope"):
        low, high = damper_loss.blade_loss(row["blades"], Q_(np.array([20.0, 50.0]), "degree")).m
        return np.log(high / low) / 30.0
    if kind.startswith("K of"):
        ratio = float(row["perimeter_ratio"] or 1.0)
        return damper_loss.blade_loss(row["blades"], Q_(float(row["angle_deg"]), "degree"), ratio)
    if kind.startswith("installed"):
        return damper_authority.installed_flow(float(row["note"].split()[-1]), float(row["authority"]))
    return _OTHERS[row["id"]]()


def _leakage(rate: float, pressure: float):
    return damper_leakage.leakage_at(Q_(rate, "cfm/ft**2"), Q_(1.0, "inH2O"), Q_(pressure, "inH2O")).to("cfm/ft**2")


def _share(place: str) -> float:
    damper = dampers.square_in_round(Q_(1.0, "m"), place, "opposed", BLADES, leakage_class(LEAKAGE))
    return damper.face / (np.pi / 4.0)


# What the rows of other kinds ask, each worked by the library.
_OTHERS = {
    "DM013": lambda: damper_authority.authority(Q_(0.15, "inH2O"), Q_(0.45, "inH2O")),
    "DM014": lambda: float((_leakage(4.0, 1.0) * Q_(4.0, "ft**2")).m_as("cfm")),
    "DM015": lambda: float((_leakage(4.0, 0.5) * Q_(4.0, "ft**2")).m_as("cfm")),
    "DM016": lambda: float(_leakage(10.0, 4.0).m),
    "DM020": lambda: _share("inside"),
    "DM021": lambda: _share("around"),
}


# --- The swimming hall --------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Hall:
    """The swimming hall over all its states, and what a device at its stack's foot would have to destroy in each."""

    job: job_file.Job
    scan: firing_states.Scan
    section: str
    duties: Duties

    @property
    def duct(self) -> Quantity:
        """Diameter of the section that the damper stands in."""
        return self.scan.plant.section(self.section).diameter

    def hold(self, damper: Damper) -> held_pressure.Held:
        """All states with this damper held at the job's set point by the header's sensor."""
        return _hold(self.job, self.scan, self.section, damper)

    def rate(self, candidates, step: float = damper_sizing.ACTUATOR_STEP) -> tuple[Rating, ...]:
        """Candidates rated over all states with an actuator of that ``step``, the best first."""
        return damper_sizing.size(self.duties, tuple(candidates), TOLERANCE, actuator_step=step)

    def wanted_loss(self, damper: Damper) -> np.ndarray:
        """K on the face of a damper that each duty asks for; 0 where nothing is to be destroyed."""
        head = damper.head(self.duties.flow, self.duties.density)
        return np.maximum(self.duties.destroy, 0.0) / head

    def all_high(self, season: int) -> int:
        """The duty in which every boiler fires high, on a hot stack without wind."""
        states = self.scan.states[self.duties.states]
        full = np.array([len(a.states) - 1 for a in self.scan.plant.appliances])
        found = (states.codes == full[:, None]).all(axis=0) & (states.season == season)
        return int(np.flatnonzero(found & (states.cold == 0) & (states.windy == 0))[0])


def _hold(of: job_file.Job, scan: firing_states.Scan, section: str, device) -> held_pressure.Held:
    control = held_pressure.Control(section, device, held_pressure.HEADER, of.set_point)
    return held_pressure.hold(scan.plant, scan.seasons, scan.states, (control,))


@cache
def hall() -> Hall:
    """The swimming hall of ``data/jobs``."""
    of = job_file.demonstration("swim_hall")
    scan = firing_states.scan(of.plant, of.seasons)
    section = foot_of_stack(of.plant)
    return Hall(of, scan, section, Duties.of(_hold(of, scan, section, held_pressure.Ideal())))


def _to_the_roof(plant: Plant) -> list[Section]:
    """The sections from the end of the header to the roof."""
    found, name = [], end_of_header.far_end(plant)
    while name not in {t.name for t in plant.terminations}:
        found.append(plant.section(name))
        name = found[-1].into
    return found


def foot_of_stack(plant: Plant) -> str:
    """The last section indoors on the way from the end of the header to the roof: the damper stands at its end."""
    way = _to_the_roof(plant)
    return [s.name for s in way if s.place == "room" or s is way[0]][-1]


def under_the_roof(damper: Damper) -> tuple[Quantity, Quantity]:
    """Highest static pressure in the swimming hall's stack against outdoors, with the damper at its foot and its top.

    Over all states in which the damper destroys draft; right under the roof (or the damper there).
    """
    of, highest = hall(), []
    for section in (of.section, held_pressure.before_termination(of.scan.plant)):
        held = _hold(of.job, of.scan, section, damper)
        solved, row = held.solution, held.solution.row("stack")
        static = solved.pressure_down[row] - solved.added[row] - solved.head_down[row]
        highest.append(Q_(float(static[of.duties.states[of.duties.destroy > 0.0]].max()), "Pa"))
    return highest[0], highest[1]


def fitted(blades: str, side: Quantity, leakage: str = LEAKAGE) -> Damper:
    """A damper of that side (or diameter) in the swimming hall's stack, between transitions where sizes differ."""
    duct, own = hall().duct.m_as("m"), side.m_as("m")
    is_round = blades not in ("opposed", "parallel")
    square = own * np.sqrt(np.pi / 4.0) if is_round else own  # of the same area
    change = 0.0 if is_round and abs(own / duct - 1.0) < 1e-6 else dampers.transition_loss(duct, square, CONE)
    count = 1 if is_round else BLADES
    # The table of butterflies holds their shaft already.
    thickness = Q_(0.0, "m") if is_round else SHAFT
    return Damper(blades, side, side, leakage_class(leakage), count, thickness, transitions=change)


CONE = SIZE_CHANGE_ANGLE


def candidates(system: str = "US") -> dict[str, Damper]:
    """What is offered for the swimming hall's stack, by name (invented sizes)."""
    duct = hall().duct
    inside = dampers.square_in_round(duct, "inside", "opposed", BLADES, leakage_class(LEAKAGE), SHAFT)
    offered = [("opposed", side, LEAKAGE) for side in (12.0, 14.0, 16.0, 20.0)]
    offered += [("parallel", 16.0, LEAKAGE), ("butterfly", 16.0, LEAKAGE), ("opposed", 20.0, "EN class 4")]
    found = {"square inside the duct, opposed": inside}
    for blades, side, leakage in offered:
        tight = "" if leakage == LEAKAGE else f", {leakage}"
        size = Q_(side, "inch")
        found[f"{show(size, system, 'diameter')} {blades}{tight}"] = fitted(blades, size, leakage)
    return found


def in_the_duct(place: str) -> tuple[Damper, float, float]:
    """A square section of opposed blades inside the swimming hall's duct or around it: the damper, its K open on the
    duct's own head, and what it costs open at full fire in winter [Pa]."""
    own = hall()
    damper = dampers.square_in_round(own.duct, place, "opposed", BLADES, leakage_class(LEAKAGE), SHAFT)
    on_duct = damper.loss(1.0) * (np.pi / 4.0 * own.duct.m_as("m") ** 2 / damper.face) ** 2
    high = own.all_high(0)
    cost = damper.loss(1.0) * damper.head(own.duties.flow[high], own.duties.density[high])
    return damper, float(on_duct), float(cost)


# --- Tables ----------------------------------------------------------------------------------------------------


def extremes(system: str = "US") -> HTML:
    """The lowest and the highest pressure at the end of the swimming hall's header, and in which state."""
    own = hall()
    pressure = end_of_header.header_pressure(own.scan)
    ends = {"lowest": int(np.nanargmin(pressure)), "highest": int(np.nanargmax(pressure))}
    rows = [("wanted", show(own.job.set_point, system, "draft"), "")]
    for name, state in ends.items():
        read = show(Q_(float(pressure[state]), "Pa"), system, "draft")
        rows.append((name, read, own.scan.describe(state, system)))
    return HTML(table(("end of the header", "pressure", "state"), rows))


def leakage_table(system: str = "US") -> HTML:
    """The leakage classes, and what K each makes of a shut damper."""
    rows, unit, named = [], *(("cfm/ft**2", "cfm/ft²") if system == "US" else ("m/s", "m³/s per m²"))
    for name in damper_leakage.leakage_classes():
        leak = leakage_class(name)
        k = float(damper_leakage.shut_loss(leak.velocity, leak.pressure).m_as(""))
        rows.append(
            (
                name,
                f"{leak.velocity.m_as(unit):.3g}",
                show(leak.pressure, system, "draft"),
                f"{round(k, -int(np.log10(k)) + 2):,.0f}",
            )
        )
    return HTML(table(("class", f"leaks at most, {named}", "at", "K shut"), rows))


def square_table(system: str = "US") -> HTML:
    """The two ways to build a square section into the swimming hall's duct, and what each costs."""
    rows, duct = [], np.pi / 4.0 * hall().duct.m_as("m") ** 2
    for place in dampers.PLACES:
        damper, on_duct, cost = in_the_duct(place)
        share = damper.face / duct
        numbers = f"{share:.0%}", f"{share * damper.free_share:.0%}", f"{damper.loss(1.0):.2f}", f"{on_duct:.2f}"
        rows.append((place, *numbers, show(Q_(cost, "Pa"), system, "draft")))
    header = ("built", "face / duct", "free / duct", "K open, on the face", "K open, on the duct", "costs at full fire")
    return HTML(table(header, rows))


def states_table(damper: Damper, system: str = "US") -> HTML:
    """Some of the states: what is to be destroyed, the K that this takes and where the damper must be."""
    own, rows = hall(), []
    wanted = own.wanted_loss(damper)
    for name, i in states_of_interest().items():
        take, flow = max(float(own.duties.destroy[i]), 0.0), float(own.duties.flow[i])
        position = float(damper.position_for(take, flow, own.duties.density[i]))
        numbers = (show(Q_(flow, "m**3/s"), system), show(Q_(take, "Pa"), system, "draft"))
        state = own.scan.describe(int(own.duties.states[i]), system)
        rows.append((name, *numbers, f"{wanted[i]:.0f}", f"{position:.0%}", state))
    return HTML(table(("duty", "flow", "to destroy", "K wanted", "open", "state"), rows))


def sizing_table(rated: tuple[Rating, ...], system: str = "US") -> HTML:
    """Candidates as rated, the best first: the worst duty over what is tolerated, and why one does not fit."""
    names = {damper: name for name, damper in candidates(system).items()}
    rows = [
        (
            names[r.damper],
            "fits" if r.fits else "no",
            f"{r.burden:.2f}",
            f"{r.smallest[0]:.0%}",
            "; ".join(told(r.reasons, system)),
        )
        for r in rated
    ]
    return HTML(table(("damper", "", "worst / tolerated", "smallest opening", "why not"), rows))


def outlets_table(held: held_pressure.Held, system: str = "US") -> HTML:
    """The outlets over all states, without a damper and with it held."""
    rows, scan = [], hall().scan
    both = zip(outlet_envelope.envelopes(scan), outlet_envelope.envelopes(held.scan(scan)), strict=True)
    for before, after in both:
        pressures = (before.low, after.low, before.high, after.high, *before.window)
        ends = [show(Q_(float(p), "Pa"), system, "draft") for p in pressures]
        rows.append((before.appliance, *ends[:4], f"{ends[4]} to {ends[5]}"))
    return HTML(table(("outlet", "lowest before", "with damper", "highest before", "with damper", "window"), rows))


def step_table(system: str = "US") -> HTML:
    """What one step of the actuator moves of the pressure destroyed, by size and opening."""
    openings, rows = (0.3, 0.4, 0.5, 0.6), []
    for inches in (12.0, 16.0, 20.0):
        damper = fitted("opposed", Q_(inches, "inch"))
        moved = (f"{damper.steepness(p) * damper_sizing.ACTUATOR_STEP:.1%}" for p in openings)
        rows.append((show(damper.width, system, "diameter"), *moved))
    return HTML(table(("opposed blades", *(f"{p:.0%} open" for p in openings)), rows))


# --- Figures ---------------------------------------------------------------------------------------------------


_OPENINGS = (0.05, 0.1, 0.2, 0.3, 0.4, 0.6, 1.0)
_FLOW_TICKS = {"US": (50, 100, 200, 500, 1000), "SI": (0.02, 0.05, 0.1, 0.2, 0.5)}


def duty_chart(damper: Damper, system: str = "US", state: int | None = None) -> Figure:
    """Every state of the swimming hall, flow against pressure to destroy, over a damper's lines of one position."""
    duties, scan = hall().duties, hall().scan
    figure, (axes,) = row_of_axes(1, 3.9)
    flow = number(duties.flow, "m**3/s", "volume flow", system)
    wanted = number(duties.destroy, "Pa", "draft", system)
    for i, (mark, color) in enumerate((("o", BLUE), ("s", GREY), ("^", RUST))):
        here = scan.states.season[duties.states] == i
        axes.plot(flow[here], wanted[here], mark, color=color, ms=3.5, mew=0, label=scan.seasons[i].name)
    span = np.geomspace(duties.flow.min() * 0.8, duties.flow.max() * 1.25, 60)
    x, head = number(span, "m**3/s", "volume flow", system), damper.head(span, float(duties.density.mean()))
    top = float(wanted.max()) * 1.3
    for opening in _OPENINGS:
        lost = number(damper.loss(opening) * head, "Pa", "draft", system)
        axes.plot(x, lost, color=INK, lw=0.9)
        for at in np.flatnonzero(lost < 0.93 * top)[-1:]:
            axes.annotate(f"{opening:.0%}", (x[at], lost[at]), size=SIZE, ha="right", va="bottom", color=INK)
    if state is not None:
        axes.plot(flow[state], wanted[state], "o", ms=11, mfc="none", mec=INK, mew=2.0, zorder=6)
    axes.axhline(0.0, color=INK, lw=0.8)
    low, high = float(flow.min()) * 0.85, float(flow.max()) * 1.25
    axes.set(xscale="log", xlim=(low, high), ylim=(float(wanted.min()) * 1.08, top))
    ticks = [t for t in _FLOW_TICKS[system] if low < t < high]
    axes.set_xticks(ticks, [f"{t:g}" for t in ticks])
    axes.set_xticks([], minor=True)
    legend(axes, loc="lower left", markerscale=1.8)
    plain(axes, axis("gas flow at the damper", "volume flow", system), axis("to destroy", "draft", system))
    return figure


# --- Live controls ------------------------------------------------------------------------------------------------


def states_of_interest() -> dict[str, int]:
    """Duties by a name: the one with the most pressure to destroy, the least flow for it, and full fire."""
    own, last = hall(), len(hall().scan.seasons) - 1
    return {
        "most draft to destroy": int(own.duties.destroy.argmax()),
        "most draft for its flow": int(own.wanted_loss(fitted("opposed", own.duct)).argmax()),
        "all high, design winter": own.all_high(0),
        "all high, mild": own.all_high(last - 1),
        "all high, summer": own.all_high(last),
    }


def explorer(system: str = "US") -> Panel:
    """A damper in the swimming hall's stack: blades, size and leakage against one state and all of them."""
    sides = [Q_(float(s), "inch") for s in range(10, 25, 2)]
    options = [(show(s, system, "diameter"), float(s.m_as("m"))) for s in sides]
    states = states_of_interest()
    controls = {
        "blades": choice("blades", damper_loss.blade_kinds(), "opposed"),
        "side": slider("side or diameter", options, float(Q_(16.0, "inch").m_as("m"))),
        "leakage": choice("leakage", damper_leakage.leakage_classes(), LEAKAGE),
        "state": choice("state", list(states.items()), states["most draft to destroy"]),
    }
    return Panel(partial(explorer_answer, system), controls)


def explorer_answer(system: str, *, blades: str, side: float, leakage: str, state: int) -> tuple[str, bytes]:
    """A damper of that side [m] in one duty and in all of them, and its lines over the duties."""
    damper = fitted(blades, Q_(side, "m"), leakage)
    return damper_numbers(damper, state, system), picture(duty_chart(damper, system, state))


def damper_numbers(damper: Damper, duty: int, system: str = "US") -> str:
    """A damper in one duty, and over all of them, as HTML tables."""
    duties, rating = hall().duties, hall().rate((damper,))[0]
    position, open_loss = rating.position[duty], damper.loss(1.0) * damper.head(duties.flow[duty], duties.density[duty])
    rows = [
        ("state", hall().scan.describe(int(duties.states[duty]), system)),
        ("flow", show(Q_(duties.flow[duty], "m**3/s"), system)),
        ("to destroy", show(Q_(max(duties.destroy[duty], 0.0), "Pa"), system)),
        ("K wanted on the face", f"{hall().wanted_loss(damper)[duty]:.4g}"),
        ("position", f"{position:.1%} open, blades at {90.0 * (1.0 - position):.0f}°"),
        ("error", show(Q_(rating.error[duty], "Pa"), system)),
        ("one step of the actuator moves", show(Q_(rating.step[duty], "Pa"), system)),
        ("authority in this state", f"{open_loss / (open_loss + vent_losses(duty)):.1%}"),
    ]
    small, where = rating.smallest
    verdict = "fits" if rating.fits else "does not fit: " + "; ".join(told(rating.reasons, system))
    whole = [
        ("smallest opening in any state", f"{small:.1%}, at {show(Q_(duties.flow[where], 'm**3/s'), system)}"),
        ("costs at most, open", show(Q_(rating.error.max(), "Pa"), system)),
        (f"all {duties.flow.size} states, within {show(TOLERANCE, system)}", verdict),
    ]
    return table(("this state", ""), rows) + table(("every state", ""), whole)


def vent_losses(duty: int) -> float:
    """What the vent from the end of the header to the roof takes in a duty without a damper [Pa]."""
    solved, state = hall().scan.solution, hall().duties.states[duty]
    lost = sum(float(solved.loss[solved.row(s.name), state]) for s in _to_the_roof(hall().scan.plant))
    return lost + float(solved.head_down[solved.row(hall().section), state])


# --- Prediction, and what is to be written ------------------------------------------------------------------------


def prediction(system: str = "US") -> Prediction:
    """Which state the reader takes to be the hardest for a damper."""
    return predict("dampers", hardest, system)


def hardest() -> dict[str, Quantity | float]:
    """K that the hardest state wants of a damper as wide as the duct, and that of the state with the most draft."""
    own, damper = hall(), fitted("opposed", hall().duct)
    wanted, flow = own.wanted_loss(damper), own.duties.flow
    most, worst = int(own.duties.destroy.argmax()), int(wanted.argmax())
    less = flow[worst] < flow[most]
    return {
        "right": 0 if worst == most else 2 if less else 1,
        "figure": Q_(float(wanted[worst]), ""),
        "hard": float(wanted[worst]),
        "most": float(wanted[most]),
        "draft": Q_(float(own.duties.destroy[most]), "Pa"),
        "there": Q_(float(own.duties.destroy[worst]), "Pa"),
        "flow_share": float(flow[worst] / flow[most]),
    }


def writing(system: str = "US") -> Writing:
    """What a damper destroys, to be written by the reader."""
    return load_writing("dampers", destroyed, system)


def destroyed(k: float, flow: Quantity, density: Quantity, side: Quantity) -> dict[str, Quantity]:
    """Total pressure destroyed in a square face, and by the slips that are made with it."""
    answer = (k * 0.5 * density * (flow / side**2) ** 2).to("Pa")
    return {
        "answer": answer,
        "standard_air": answer * float((STANDARD_AIR / density).m_as("")),
        "circle": answer * (4.0 / np.pi) ** 2,
        "not_halved": 2.0 * answer,
        "head": answer / k,
    }


# --- Questions ------------------------------------------------------------------------------------------------------


def questions(system: str = "US", seed: int | None = None) -> tuple[Exercise, ...]:
    """Questions of the chapter, with its own figures or those that ``seed`` draws."""
    return load("dampers", (what_it_costs, wanted_loss, leaks, inside, bent_curve), system, seed)


def what_it_costs(flow: Quantity, density: Quantity, side: Quantity, angle: Quantity) -> dict[str, Quantity | float]:
    """What opposed blades at an angle destroy in a square face, and in a circle as wide."""
    k = float(damper_loss.blade_loss("opposed", angle, 1.0).m_as(""))
    head, in_circle = ((0.5 * density * (flow / a) ** 2).to("Pa") for a in (side**2, np.pi / 4 * side**2))
    figures = {"answer": k * head, "circle": k * in_circle, "not_halved": 2 * k * head}
    return figures | {"head": head, "k": k}


def wanted_loss(flow: Quantity, density: Quantity, side: Quantity, pressure: Quantity) -> dict[str, Quantity | float]:
    """K that destroys a pressure in a square face."""
    velocity = (flow / side**2).to("m/s")
    head = (0.5 * density * velocity**2).to("Pa")
    k = (pressure / head).to("")
    figures = {"answer": k, "circle": k * (np.pi / 4) ** 2, "not_halved": k / 2}
    return figures | {"velocity": velocity, "head": head, "k": float(k.m)}


def leaks(area: Quantity, rate: Quantity, now: Quantity, system: str) -> dict[str, Quantity | str | float]:
    """What a shut damper passes at another pressure than that of its rating, 1 in. w.c."""
    pressure = float(now.m_as("inH2O"))
    full, expected = ((_leakage(rate.m_as("cfm/ft**2"), p) * area).to("m**3/s") for p in (1.0, pressure))
    told = {"pressure": pressure, "root": pressure**0.5, "feet": area.m_as("ft**2"), "meters": area.m_as("m**2")}
    flows = {"as_rated": _small_flow(full, system), "passes": _small_flow(expected, system)}
    return {"answer": expected, "full": full, "in_proportion": pressure * full} | told | flows


def _small_flow(flow: Quantity, system: str) -> str:
    return f"{flow.m_as('cfm'):.2f} cfm" if system == "US" else f"{flow.m_as('m**3/s'):.5f} m³/s"


def inside(k: float) -> dict[str, Quantity | float]:
    """K on the duct's head of the largest square inside it."""
    ratio = np.pi / 2.0
    wrong = {"area_once": Q_(k * ratio, ""), "wrong_way": Q_(k / ratio**2, "")}
    return {"answer": Q_(k * ratio**2, ""), "in_duct": k * ratio**2} | wrong


def bent_curve(phi: float, alpha: float) -> dict[str, Quantity | float]:
    """Share of full flow of a damper with so much authority."""
    share = float(damper_authority.installed_flow.bare(phi, alpha))
    told = {"open": 100.0 * phi, "authority": 100.0 * alpha, "percent": 100.0 * share, "rest": 1.0 - alpha}
    wrong = {"alone": Q_(phi, ""), "not_squared": Q_(float(1.0 / np.sqrt(1.0 - alpha + alpha / phi)), "")}
    squared = {"square": phi**2, "quotient": alpha / phi**2}
    return {"answer": Q_(share, "").to("percent")} | told | squared | wrong
