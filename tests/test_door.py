"""Functions that hand quantities on: none takes what is no number, has no fitting unit or cannot be; each says so.

They are found by looking: a public function that is annotated with a quantity has a door, or is named here with the
reason why not.
"""

import inspect
import re

import numpy as np
import pytest
from sample_single_vents import HOOD, WINTER
from test_docstrings import PUBLIC, QUANTITY_FUNCTIONS

from ventcalc.door import door
from ventcalc.draft import firing_schedule, outlet_control
from ventcalc.units import Q_, UnitsError
from ventcalc.vent import draft_margin, vent_sizing

# Of the parts that a job is worked out with; what is shown comes from them.
_PARTS = ("gas", "flow", "vent", "draft", "building", "job")
# What has no door, and what refuses instead.
ELSEWHERE = {
    "building.roof_scene.meters": "the check itself, by the name that it is told",
    "building.roof_scene.points_in_meters": "the check itself, by the name that it is told",
    "vent.capacity_tables.feet": "the check itself, by the name that it is told",
    "draft.startup_sheet.shown": "writes what has been worked out, in any unit",
    "job.job_fields.as_written": "writes what was read, in its unit",
    "draft.outlet_control.with_windows": "windows: an Appliance refuses, below",
    **{f"vent.vent_sizing.{name}": "sizes: draft_margin.plain_sizes, below" for name in
       ("capacity", "smallest_diameter", "least_height", "least_flue_temperature", "longest_run")},
    "vent.draft_margin.margin": "sizes: plain_sizes, below",
}  # fmt: skip


# What asks for one plain number and has no door for it, and why not.
PLAIN_ELSEWHERE = {
    "building.re_entrainment.judge": "a share of NO2 outside 0 to 1 is refused by it",
    "draft.damper_loss.log_loss": "a ratio outside the table, NaN too, is refused by it",
    "vent.column_walls.walls": "a wall of infinite capacity keeps its temperature",
    "job.vent_changes.with_top": "a factor of the remedies' own",
    **dict.fromkeys(
        ("building.re_entrainment_words.ppm_text", "draft.fan_selection.power_text", "job.calibrated_study.told_of",
         "job.findings.pascal", "job.next_reading.usual_error", "job.reading_verdicts.beyond"),
        "tells what has been worked out",
    ),
    **dict.fromkeys(
        ("building.co_exposure.first_above", "building.cohb.judged_cohb", "draft.held_pressure.hold_network",
         "draft.limit_switches.lasting", "draft.sensor_error.seen", "draft.sensor_location.shares_seen",
         "flow.junctions.area_ratio", "gas.appliance.firing_stream", "gas.appliance.stream",
         "job.derived_limits.proof_of_draft", "job.evidence.fit",
         "job.remedy.as_drawn", "job.run_record.what_acts", "job.run_record.first_lasting", "job.steps.nobody",
         "job.steps.within", "job.wall_memory.cycles", "job.wall_memory.carry"),
        "within a search or on plain arrays, from what has passed a door",
    ),
}  # fmt: skip


def _asks_for_a_quantity(function) -> bool:
    return any("Quantity" in str(p.annotation) for p in inspect.signature(function).parameters.values())


HANDING_ON = {
    name: f
    for name, f in PUBLIC.items()
    if inspect.isfunction(f) and name.startswith(_PARTS) and name not in QUANTITY_FUNCTIONS and _asks_for_a_quantity(f)
}
PLAIN = {
    name: {
        n
        for n, p in inspect.signature(f).parameters.items()
        if str(p.annotation) in ("<class 'float'>", "float | None")
    }
    for name, f in PUBLIC.items()
    if inspect.isfunction(f) and name.startswith(_PARTS) and name not in QUANTITY_FUNCTIONS
}
DOORS = {name: f for name, f in PUBLIC.items() if hasattr(f, "takes")}


def test_every_function_that_asks_for_a_quantity_has_a_door():
    takes = {name for name, f in DOORS.items() if f.takes}
    assert set(HANDING_ON) - takes == set(ELSEWHERE)


def test_every_function_that_asks_for_a_plain_number_has_a_door_for_it():
    checked = {name: {*f.plain, *f.takes} for name, f in DOORS.items()}
    assert {name for name, asked in PLAIN.items() if asked - checked.get(name, set())} == set(PLAIN_ELSEWHERE)


@pytest.mark.parametrize("name", DOORS)
def test_every_quantity_that_it_asks_for_passes_the_door(name):
    alone = r"<class 'pint\.Quantity'>|pint\.Quantity \| None|.*\bQuantity(?: \| None)?"
    parameters = inspect.signature(DOORS[name]).parameters.items()
    asked = {n for n, p in parameters if p.kind is not p.VAR_KEYWORD and re.fullmatch(alone, str(p.annotation))}
    assert asked <= set(DOORS[name].takes)


def wrong_values(unit: str, array: bool, below: bool) -> dict:
    """What no argument of this unit can be, each with what it is."""
    found = {
        "None": None, "text": "much", "a bare number": 3.0, "a list": ["much"], "an object": object(),
        "another unit": Q_(1.0, "kg" if unit != "kg" else "m"), "texts in a unit": Q_(np.array(["1"]), unit),
        "NaN": Q_(np.nan, unit), "infinity": Q_(np.inf, unit), "minus infinity": Q_(-np.inf, unit),
        "empty": Q_(np.empty(0), unit), "truth values": Q_(np.array([True]), unit),
    }  # fmt: skip
    if not array:
        found["several"] = Q_(np.array([1.0, 2.0]), unit)
    if below:
        found["below the least"] = Q_(-1.0, unit)
    if not unit:
        del found["a bare number"]  # which a plain ratio is
    return found


def wrong_numbers(function, argument) -> dict:
    """What no plain number of an argument can be, each with what it is."""
    found = {
        "None": None, "text": "much", "a list": [1.0], "an array": np.ones(2), "an object": object(), "a truth": True,
        "a unit": Q_(1.0, "m"), "a quantity": Q_(0.5, ""), "complex": 1j,
        "NaN": np.nan, "infinity": np.inf, "minus infinity": -np.inf,
    }  # fmt: skip
    if argument in function.arrays:
        found["an array"], found["texts"] = np.array([1.0, np.nan]), np.array(["1"])
    for limits, past in ((function.above, 0.0), (function.at_least, -1.0), (function.at_most, 1.0)):
        if argument in limits:
            found[f"past {limits[argument]:g}"] = limits[argument] + past
    return found


@pytest.mark.parametrize("name", DOORS)
def test_what_cannot_be_is_refused_by_name(name):
    function, let_in = DOORS[name], []
    parameters = inspect.signature(function).parameters
    usual = {n: object() for n, p in parameters.items() if p.default is p.empty}
    usual |= {n: Q_(function.at_most.get(n, 400.0), unit) for n, unit in function.takes.items()}
    usual |= {n: function.at_most.get(n, 400.0) for n in function.plain}
    for argument, unit in (function.takes | function.plain).items():
        below = argument in function.above or argument in function.at_least
        plain = argument in function.plain
        wrongs = (
            wrong_values(unit, argument in function.arrays, below) if not plain else wrong_numbers(function, argument)
        )
        for what, wrong in wrongs.items():
            if what == "None" and "None" in str(parameters[argument].annotation):
                continue
            try:
                function(**usual | {argument: wrong})
                said = "answered"
            except (ValueError, TypeError) as error:
                said = str(error)
            if not re.match(rf"{function.__name__}: {argument} ", said):
                let_in.append((argument, what, said))
    assert not let_in


def test_a_limit_is_told_with_the_value():
    @door(width="m", above={"width": 0.0})
    def board(width, color=None):
        return width

    assert board(Q_(12.0, "inch")) == Q_(1.0, "ft")  # handed on as it is
    with pytest.raises(ValueError, match=r"board: width = -0.3048 m must be above 0 m"):
        board(Q_(-1.0, "ft"))
    with pytest.raises(TypeError, match="takes no quantity height"):
        door(height="m")(board)
    with pytest.raises(TypeError, match="of a limit"):
        door(width="m", above={"color": 0.0})(board)


def test_a_plain_number_is_one_of_its_unit():
    @door(plain={"share": ""}, at_most={"share": 1.0})
    def part(share=0.5):
        return share

    assert part() == 0.5 and part(np.float64(1.0)) == 1.0
    with pytest.raises(ValueError, match="part: share = 1.5 must be at most 1"):
        part(1.5)
    with pytest.raises(TypeError, match="part: share must be a plain number, got '30 %'"):
        part("30 %")


@pytest.mark.parametrize("size", ["heat_input", "diameter", "height", "run", "flue_temperature"])
@pytest.mark.parametrize("work", [draft_margin.margin, vent_sizing.capacity, vent_sizing.smallest_diameter])
def test_sizes_are_refused_by_name(work, size):
    unit = {"heat_input": "W", "flue_temperature": "K"}.get(size, "m")
    for wrong in ("much", 3.0, Q_(1.0, "kg"), *(Q_(v, unit) for v in (np.nan, np.inf, -1.0)), Q_(np.empty(0), unit)):
        with pytest.raises((ValueError, TypeError), match=size):
            work(HOOD, WINTER, **{size: wrong})


@pytest.mark.parametrize("edge", [None, "much", 3.0, Q_(1.0, "kg"), Q_(np.nan, "Pa"), Q_(-99.0, "Pa")])
def test_the_edge_of_a_window_is_refused_by_the_name_of_its_appliance(edge):
    name = HOOD.appliances[0].name
    with pytest.raises((ValueError, UnitsError), match=f"{name}: window"):
        outlet_control.with_windows(HOOD, {name: (Q_(-50.0, "Pa"), edge)})


@pytest.mark.parametrize("later", [None, "much", 3.0, Q_(1.0, "kg"), Q_(np.nan, "s"), Q_(-1.0, "s")])
def test_the_time_of_a_level_is_refused_by_its_name(later):
    with pytest.raises((ValueError, UnitsError), match="levels: time of low"):
        firing_schedule.start_up("Boiler 1", Q_(0.0, "s"), Q_(30.0, "s"), (("low", later),))
