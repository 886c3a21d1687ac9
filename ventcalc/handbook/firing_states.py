"""Firing states: the chapter's questions, and live controls that narrow a scan to some of its states."""

from itertools import product
from math import prod

import ipywidgets as widgets
import numpy as np

from ventcalc import wind
from ventcalc.checked import Check, compare
from ventcalc.exercises import Exercise, Slip
from ventcalc.firing_states import Scan, gas_in_room
from ventcalc.handbook.axes import picture
from ventcalc.handbook.common_vent import DOES, Outlet, draft_form, draft_text, outlets_drawing
from ventcalc.panels import Panel, choice, no_picture, paragraph, table
from ventcalc.units import Q_, show

# --- Checks ---------------------------------------------------------------------------------------------------

_EIGHT = Q_(np.arange(0.0, 360.0, 45.0), "degree")


def wind_checked() -> tuple[Check, ...]:
    """Our wind beside every row of ``data/wind_checks.csv``."""
    ours = {"WP001": float(wind.wind_at_height(Q_(10.0, "m/s"), Q_(15.0, "m"), "suburb").m_as("m/s"))}
    for number, (shielding, pitch) in enumerate(product(wind.SHIELDINGS, wind.PITCHES), start=2):
        ours[f"WP{number:03d}"] = float(wind.roof_coefficient(_EIGHT, pitch, shielding).m.mean())
    head = Q_(0.5 * 1.23 * 8.0**2, "Pa")
    ours["WP011"] = wind.terminal_coefficient(Q_(45.0, "degree")) * head
    return compare("wind_checks", ours | {"WP012": wind.outlet_pressure(), "WP013": wind.outlet_pressure(coast=True)})


# --- Live controls ------------------------------------------------------------------------------------------

_ANY = "any"  # not None, which a list of choices takes for no choice at all


def explorer(system: str, scan: Scan) -> Panel:
    """Controls that narrow a scan to some of its states, and every outlet's range over what is left."""

    def answer(**values) -> tuple[str, bytes]:
        return explorer_answer(system, scan, **values)

    return Panel(answer, controls(scan))


def controls(scan: Scan) -> dict[str, widgets.Widget]:
    """The explorer's controls by name; at first nothing is narrowed."""
    found: dict[str, widgets.Widget] = {
        "season": choice("Season", [("any", _ANY), *((s.name, i) for i, s in enumerate(scan.seasons))], _ANY),
        "cold": choice("Stack", [("hot or cold", _ANY), ("hot", False), ("cold", True)], _ANY),
        "windy": choice("Wind", [("any", _ANY), ("calm", 0), *((wind.CASES[c], c) for c in (1, 2))], _ANY),
    }
    for a in scan.plant.appliances:
        does = [("anything", _ANY), *((name, code) for code, name in enumerate(a.states))]
        found[DOES + a.name] = choice(a.name, does, _ANY)
    return found


def explorer_answer(
    system: str, scan: Scan, *, season: int | str, cold: bool | str, windy: int | str, **doing: int | str
) -> tuple[str, bytes]:
    """Every outlet's range over the states that fit; "any" stands for whatever there is."""
    fits = _fitting(scan, season, cold, windy, doing)
    outlets, rows = [], []
    for i in range(len(scan.plant.appliances)):
        outlet, row = _over(scan, i, fits, system)
        rows.append(row)
        if outlet:
            outlets.append(outlet)
    count = paragraph(f"{scan.count(fits):,} of {len(scan.conditions):,} states.{_twice(scan, fits)}")
    numbers = count + table(("outlet", "lowest", "highest", "swing", "verdict"), rows)
    return numbers, picture(outlets_drawing(outlets, system)) if outlets else no_picture()


def _fitting(scan: Scan, season, cold, windy, doing) -> np.ndarray:
    """Which states of the scan fit; ValueError where none does."""
    fits = np.ones(len(scan.states), bool)
    wanted = [(season, scan.states.season), (cold, scan.states.cold), (windy, _wind(scan))]
    wanted += [(doing[DOES + a.name], scan.states.codes[i]) for i, a in enumerate(scan.plant.appliances)]
    for value, values in wanted:
        if value != _ANY:
            fits &= values == value
    if not fits.any():
        raise ValueError("no state of the scan fits all of this")
    return fits


def _twice(scan: Scan, fits: np.ndarray) -> str:
    """How many of the states that fit come to rest in more than one way."""
    several = int((np.bincount(scan.condition[fits]) > 1).sum())
    return f" In {several:,} of them it depends on what was before how the vent comes to rest." if several else ""


def _wind(scan: Scan) -> np.ndarray:
    """The wind's case of every state; 0 in calm."""
    return scan.states.windy if scan.states.wind_case is None else scan.states.wind_case


def _over(scan: Scan, i: int, fits: np.ndarray, system: str) -> tuple[Outlet | None, tuple[str, ...]]:
    """One outlet over the states that fit, and its row; no outlet where its appliance runs in none of them."""
    a, counted, into_room = scan.plant.appliances[i], np.flatnonzero(fits & scan.running(i)), _into_room(scan, i, fits)
    if counted.size == 0:
        idle = f"{show(Q_(into_room, 'kg/s'), system)} of flue gas into the room" if into_room else "idle"
        return None, (a.name, "", "", "", idle)
    pressure = scan.solution.outlet_pressure[i, counted]
    window = tuple(float(w.m_as("Pa")) for w in a.window)
    outlet = Outlet(a.name, "", float(pressure.min()), float(pressure.max()), window, True, into_room)
    ends = ((outlet.low, pressure.argmin()), (outlet.high, pressure.argmax()))
    low, high = (f"{draft_text(p, system)}: {scan.describe(int(counted[at]), system)}" for p, at in ends)
    return outlet, (a.name, low, high, draft_text(outlet.high - outlet.low, system), outlet.words(system))


def _into_room(scan: Scan, i: int, fits: np.ndarray) -> float:
    """Most flue gas [kg/s] that enters the room through an appliance in the states that fit, 0 where none does."""
    return float(np.where(fits & gas_in_room(scan)[i], -scan.solution.drawn[i], 0.0).max())


# --- Questions ----------------------------------------------------------------------------------------------


def questions(system: str = "US") -> tuple[Exercise, ...]:
    """The chapter's questions, their answers worked by the library."""
    return (_how_many_states(), _swing(system), _through_an_idle_boiler(system), _what_a_sample_finds())


def _how_many_states() -> Exercise:
    boilers, each, weather = 5, 4, (3, 2, 2)
    expected = each**boilers * prod(weather)
    return Exercise(
        question=(
            "Five boilers, each off, purging, at low or at high; three seasons, hot or cold stack, wind or none. "
            "How many states are there to look at?"
        ),
        expected=Q_(float(expected), ""),
        tolerance=Q_(0.5, ""),
        hints=("What one boiler does leaves the others free: multiply.", "4 x 4 x 4 x 4 x 4 for the boilers alone."),
        solution=f"4^5 x 3 x 2 x 2 = {expected:,}.",
        slips=(
            Slip(
                Q_(float(each * boilers * prod(weather)), ""),
                "Choices that are free of one another multiply: 4^5, not 4 x 5.",
            ),
            Slip(
                Q_(float(2**boilers * prod(weather)), ""), "Off and purging are states too, and not the harmless ones."
            ),
            Slip(Q_(float(each**boilers), ""), "The boilers are right; seasons, stack and wind are missing."),
            Slip(
                Q_(float((each + boilers - 1) * prod(weather)), ""),
                "Equal boilers at different places on a header are not the same: count each for itself.",
            ),
        ),
        example="1000",
    )


def _swing(system: str) -> Exercise:
    low, high, edge = (Q_(p, "inH2O") for p in (-0.18, 0.13, 0.10))
    form, near = draft_form(system)
    shown = [show(p, system) for p in (low, high, edge)]
    return Exercise(
        question=(
            f"Over all states an outlet pressure runs from {shown[0]} to {shown[1]}; its window ends at {shown[2]} "
            "above and as far below zero. What is its swing?"
        ),
        expected=high - low,
        tolerance=near,
        hints=("The swing is highest less lowest, whatever the window.", "Mind the sign of the lowest."),
        solution=(
            f"{shown[1]} less {shown[0]} is {show(high - low, system)}: wider than the window, so no shift of the "
            "whole cures it."
        ),
        slips=(
            Slip(high + low, "The signs were lost: less a negative is plus."),
            Slip(2 * edge, "That is the width of the window."),
            Slip(high - edge, "That is how far it rises above its window."),
            Slip(-edge - low, "That is how far it falls below its window."),
        ),
        example=form,
    )


def _through_an_idle_boiler(system: str) -> Exercise:
    leak, at, now = Q_(25.0, "cfm"), Q_(0.10, "inH2O"), Q_(0.225, "inH2O")
    expected = leak * float((now / at).m_as("")) ** 0.5
    shown = [show(q, system) for q in (leak, at, now)]
    return Exercise(
        question=(
            f"An idle boiler leaks {shown[0]} at {shown[1]}. The others push the pressure at its outlet to "
            f"{shown[2]} above the room. How much flue gas comes out of it, if flow goes with the root of pressure?"
        ),
        expected=expected,
        tolerance=0.03 * expected,
        hints=("dp = R Q^2, so Q grows with the root of dp.", "The pressure is 2.25 times as high; its root is 1.5."),
        solution=(
            f"{shown[0]} x sqrt({shown[2]} / {shown[1]}) = {show(expected, system)}: into the room, where people are."
        ),
        slips=(
            Slip(
                leak * float((now / at).m_as("")),
                "That is flow in proportion to pressure; through a gap it goes with the root.",
            ),
            Slip(leak, "That is the leak at the pressure of its rating."),
        ),
        example="30 cfm" if system == "US" else "0.014 m**3/s",
    )


def _what_a_sample_finds() -> Exercise:
    possible, bad, sampled = 1_000_000, 50, 40_000
    expected = 1.0 - (1.0 - bad / possible) ** sampled
    return Exercise(
        question=(
            f"A plant has {possible:,} states, of which {bad} are bad. {sampled:,} are drawn at random. How likely "
            "is it that at least one bad state is among them, in percent?"
        ),
        expected=Q_(expected, "").to("percent"),
        tolerance=Q_(1.0, "percent"),
        hints=(
            "Ask first how likely it is that none is found.",
            f"One draw misses with 1 - {bad}/{possible:,}; {sampled:,} draws miss with that to the power {sampled:,}.",
        ),
        solution=(
            f"1 - (1 - {bad}/{possible:,})^{sampled:,} = {100 * expected:.1f} %. One job in seven would be missed: "
            "hence the directed search after the sample."
        ),
        slips=(
            Slip(Q_(sampled / possible, ""), "That is the chance of one single state; any of the bad ones will do."),
            Slip(Q_(1.0 - expected, ""), "That is the chance to miss them all."),
            Slip(Q_(sampled * bad / possible, ""), "That is how many are found in the mean; a chance ends at 100 %."),
            Slip(Q_(expected, "percent"), "The digits are right; write it with a percent sign, or as a ratio below 1."),
        ),
        example="50 %",
    )
