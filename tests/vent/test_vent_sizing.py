"""Vent sizing: published examples, the solver of the common vent beside it, inverses that invert, refusals."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ventcalc import tables
from ventcalc.checked import compare
from ventcalc.flow import stack_effect, steam_book_stack
from ventcalc.flow.materials import material
from ventcalc.gas import atmosphere, combustion, combustion_analysis, flue_gas
from ventcalc.gas.appliance import Appliance, FiringLevel
from ventcalc.gas.fuels import fuel
from ventcalc.handbook.capacity_tables import FAN_RISE, HOOD_RISE
from ventcalc.job import job_file
from ventcalc.units import Q_, UnitsError
from ventcalc.vent import draft_margin, false_position, nominal_sizes, single_vent, vent_at_work, vent_sizing
from ventcalc.vent.common_vent import solve
from ventcalc.vent.network import Season
from ventcalc.vent.states import States

GAS = fuel("natural gas")
WINTER = Season("winter", Q_(20, "degF"), Q_(70, "degF"))
SPRING = Season("spring", Q_(60, "degF"), Q_(70, "degF"))
TWO_ELBOWS = ("elbow 90", "elbow 90")
QUESTIONS = {
    "diameter": vent_sizing.smallest_diameter,
    "height": vent_sizing.least_height,
    "run": vent_sizing.longest_run,
    "flue_temperature": vent_sizing.least_flue_temperature,
}


def heater(kind="draft hood", category="I", window=(-100.0, 0.0), inch=4.0, mbh=100.0, excess=0.4, degf=440.0, **more):
    return Appliance(
        "Heater",
        GAS,
        category,
        (FiringLevel("on", Q_(mbh, "MBH"), excess, Q_(degf, "degF")),),
        outlet_diameter=Q_(inch, "inch"),
        outlet_height=Q_(4, "ft"),
        window=tuple(Q_(p, "Pa") for p in window),
        kind=kind,
        **more,
    )


def on_vent(appliance, height=20.0, inch=5.0, run=5.0, vent="Type B gas vent", **more):
    return single_vent.single_vent(
        appliance, Q_(height, "ft"), Q_(inch, "inch"), material(vent), Q_(run, "ft"), fittings=TWO_ELBOWS, **more
    )


HOOD = on_vent(heater())
FAN = on_vent(heater("forced", excess=0.5, degf=310.0))
ATMOSPHERIC = on_vent(heater("forced", window=(-100.0, -5.0), degf=500.0, excess=0.6), vent="insulated chimney")
PRESSURE = on_vent(
    heater("forced", "IV", (-10.0, 100.0), excess=0.25, degf=140.0), height=6.0, inch=4.0, run=30.0,
    vent="stainless special gas vent single wall",
)  # fmt: skip
CASES = {"draft hood": HOOD, "fan-assisted": FAN, "natural draft": ATMOSPHERIC, "pressurised": PRESSURE}


# --- Published examples -----------------------------------------------------------------------------------


def test_stack_for_2000_boiler_horsepower():
    # W1: Steam, Its Generation and Use (public domain), Solution of a Problem: available draft 1.2 in. w.c. of 80 % of
    # the theoretical; air 60 F, gas 550 F, 14.7 psia; height 211 ft. Read. Gas taken for air, as in the book.
    pressure = Q_(14.7, "psi")
    cold, hot = (atmosphere.air_density(Q_(t, "degF"), pressure) for t in (60.0, 550.0))
    height = stack_effect.height_for_draft(Q_(1.2, "inH2O") / 0.8, cold, hot)
    assert compare("draft_checks", {"D100": height})[0].agrees
    # The book rounds K to 0.0071 in. w.c. per ft; to its printed 211 ft.
    assert round(float(height.m_as("ft"))) == 211


@pytest.mark.parametrize(("inch", "book"), [(54.0, 0.29), (60.0, 0.45), (66.0, 0.53)])
def test_available_draft_of_a_steel_stack(inch, book):
    # W3, Table 53 of the same book: 100 ft, 1000 hp, 100 lb of gas per hp and hour, 500 F, K = 0.0067, f = 0.0014
    # (inferred).
    # The stack that gives the book's available draft must be as high as the book's: K H less friction, solved for H.
    flow, diameter = Q_(100_000.0, "lb/hour"), Q_(inch, "inch")
    friction = steam_book_stack.steam_book_stack_friction(flow, Q_(100.0, "ft"), diameter, 0.0014)
    cold, hot = (atmosphere.air_density(Q_(t, "degF"), Q_(14.7, "psi")) for t in (60.0, 500.0))
    # 0.005 in. w.c. is half of the last printed digit, or 0.75 ft of this stack; K is rounded by 0.3 %, another 0.3 ft.
    # The 66 in. cell is met to one digit in the last place (0.535 truncated).
    height = stack_effect.height_for_draft(Q_(book, "inH2O") + friction, cold, hot)
    assert height.m_as("ft") == pytest.approx(100.0, abs=1.6)


def test_short_chimney_exercises():
    # W12 (public exercise sheet) and W13 (textbook example 11.20), rows of stack_effect_checks.csv.
    air, gas = Q_(1.2, "kg/m**3"), Q_(0.6555, "kg/m**3")
    outdoor = flue_gas.density(flue_gas.Gas.dry_air(), Q_(293.0, "K"), Q_(101325.0, "Pa"))
    draught = Q_(19.0, "mm") * Q_(1000.0, "kg/m**3") * Q_(9.80665, "m/s**2")
    velocity = stack_effect.frictionless_velocity(draught, gas)
    ours = {
        "W12a": float(stack_effect.height_for_draft(Q_(0.23, "kPa"), air, Q_(0.79, "kg/m**3")).m),
        "W13a": float(stack_effect.height_for_draft(draught, outdoor, gas).m),
        "W13d": float(velocity.m_as("m/s")),
        "W13e": float((velocity * gas * np.pi / 4 * Q_(1.8, "m") ** 2).m_as("kg/s")),
    }
    for check in compare("stack_effect_checks", ours):
        assert check.agrees, (check.id, check.ours, check.published)


def test_no_height_draws_with_heavy_gas():
    with pytest.raises(ValueError, match="gas_density"):
        stack_effect.height_for_draft(Q_(10.0, "Pa"), Q_(1.1, "kg/m**3"), Q_(1.2, "kg/m**3"))


def of_the_code(row):
    """The draft-hood vent of a row of the code's table, and the season of its design condition."""
    height, run, inch = (float(row[c]) for c in ("height_ft", "lateral_ft", "diameter_in"))
    appliance = heater(
        inch=inch, excess=combustion_analysis.excess_air_from_co2.bare(GAS, 0.08), degf=60.0 + 1.8 * 165 * 1.45
    )
    plant = single_vent.single_vent(
        appliance, Q_(height, "ft"), Q_(inch, "inch"), material("Type B gas vent"), Q_(run, "ft"),
        fittings=TWO_ELBOWS if run else (),
    )  # fmt: skip
    return plant, Season("60 F", Q_(60.0, "degF"), Q_(60.0, "degF"))


@pytest.mark.parametrize("key", ["V016", "V048", "V049", "V061", "V025", "V201", "V202"])
def test_draft_hood_cells_of_the_code(key):
    # Table 504.2(1), NAT max, at the handbook's design condition: 5.3 % CO2 and 165 K above the room behind the hood
    # (C039, C046, published), 60 F indoors and out (from memory). 15 % is what the rows suggest at least for first
    # principles; the whole table is compared in tests/handbook/test_capacity_tables.py.
    row = tables.row("vent_capacity_checks", key)
    ours = vent_sizing.capacity(*of_the_code(row)).m_as("MBH")
    assert ours == pytest.approx(float(row["nat_max_MBH"]), rel=0.15)


NAT_CELLS = [
    row["id"]
    for row in tables.read("vent_capacity_checks")
    if row["table"] == "504.2(1)" and row["nat_max_MBH"].isdigit() and row["status_nat_max"].startswith("published")
]


@pytest.mark.parametrize("key", NAT_CELLS)
def test_a_hood_draws_the_air_that_the_tables_reckon_with(key):
    # What the loss of half a velocity head in a hood (from memory) is worth: at the input that the table allows, the
    # vent's own draft must thin the gas to about the 5.3 % of dry CO2 that the handbook counts with behind a hood
    # (C039, published); 4 to 5 % is what is measured there (common practice, no source). Found: 4.9 to 5.25 %.
    row = tables.row("vent_capacity_checks", key)
    at_table = vent_at_work.operate(*of_the_code(row), heat_input=Q_(float(row["nat_max_MBH"]), "MBH"))
    assert not at_table.spills and 0.04 < at_table.co2 < 0.0535


# --- The same physics as the solver ------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["fan-assisted", "natural draft", "pressurised"])
def test_margin_is_what_the_solver_finds(name):
    plant = CASES[name]
    codes = np.array([[1]])
    solution = solve(plant, (WINTER,), States(codes, np.array([0]), np.array([False]), np.array([False])))
    spare = plant.appliances[0].window[1].m_as("Pa") - solution.outlet_pressure[0, 0]
    assert draft_margin.margin(plant, WINTER).m_as("Pa") == pytest.approx(spare, abs=1e-9)


def drawn_to(plant, **sizes):
    """The plant drawn anew with these sizes."""
    sections = []
    for s in plant.sections:
        if "diameter" in sizes:
            s = replace(s, diameter=sizes["diameter"])
        if s.name == "rise" and "height" in sizes:
            s = replace(s, length=sizes["height"], rise=sizes["height"])
        if s.name == "run" and "run" in sizes:
            s = replace(s, length=sizes["run"])
        sections.append(s)
    plant = replace(plant, sections=tuple(sections))
    if "flue_temperature" in sizes:
        a = plant.appliances[0]
        level = replace(a.levels[0], flue_temperature=sizes["flue_temperature"])
        plant = replace(plant, appliances=(replace(a, levels=(level,)),))
    return single_vent.with_input(plant, sizes["heat_input"]) if "heat_input" in sizes else plant


@pytest.mark.parametrize("name", CASES)
def test_sizes_in_arrays_are_sizes_on_the_drawing(name):
    plant = CASES[name]
    sizes = {
        "diameter": Q_(np.array([5.0, 6.0, 9.0]), "inch"),
        "height": Q_(np.array([10.0, 33.0, 60.0]), "ft"),
        "run": Q_(np.array([2.0, 11.0, 40.0]), "ft"),
        "heat_input": Q_(np.array([60.0, 130.0, 400.0]), "MBH"),
    }
    if plant is not PRESSURE:
        sizes["flue_temperature"] = Q_(np.array([300.0, 380.0, 420.0]), "degF")
    together = draft_margin.margin(plant, WINTER, **sizes).m_as("Pa")
    for k in range(3):
        one = drawn_to(plant, **{n: v[k] for n, v in sizes.items()})
        assert together[k] == pytest.approx(draft_margin.margin(one, WINTER).m_as("Pa"), rel=1e-8, abs=1e-7)


@pytest.mark.parametrize("season", [WINTER, SPRING], ids=lambda s: s.name)
def test_at_capacity_the_hood_draws_its_design_dilution(season):
    most = vent_sizing.capacity(HOOD, season)
    at_work = vent_at_work.operate(HOOD, season, heat_input=most)
    # The solver finds the flow by itself, to 1e-4 Pa; the CO2 behind the hood follows from it. The design dilution is
    # counted with dry combustion air, what is drawn is humid: 1e-4 of CO2.
    assert at_work.co2 == pytest.approx(draft_margin.HOOD_CO2, abs=1e-4)
    assert at_work.margin.m_as("Pa") == pytest.approx(0.0, abs=1e-6)
    assert at_work.works and not at_work.spills
    assert vent_at_work.operate(HOOD, season, heat_input=0.7 * most).co2 < at_work.co2
    assert not vent_at_work.operate(HOOD, season, heat_input=1.2 * most).works


def test_a_hood_far_beyond_its_capacity_spills():
    most = vent_sizing.capacity(HOOD, SPRING)
    overfired = vent_at_work.operate(HOOD, SPRING, heat_input=3.0 * most)
    assert overfired.spills
    assert "spills into the room" in vent_at_work.cautions(overfired)[0]


# --- Inverses -----------------------------------------------------------------------------------------------


def random_sizes(plant, count, seed):
    rng = np.random.default_rng(seed)
    outlet = plant.appliances[0].outlet_diameter.m_as("inch")
    sizes = {
        # Behind a fan a much wider vent regains more velocity head than it loses, and no input is too much for it.
        "diameter": Q_(rng.uniform(1.02, 3.0 if plant is HOOD else 1.2, count) * outlet, "inch"),
        "height": Q_(rng.uniform(8.0, 80.0, count), "ft"),
        "run": Q_(rng.uniform(1.0, 20.0, count), "ft"),
    }
    if plant is not PRESSURE:  # its water stays in the appliance below the dew point, so its gas is of one temperature
        sizes["flue_temperature"] = Q_(rng.uniform(320.0, 460.0, count), "degF")
    return sizes


def least(plant, unknown):
    """The lower end of what is searched, in SI; see `vent_sizing`."""
    outlet = plant.appliances[0].outlet_diameter.m_as("m")
    return {"diameter": outlet, "height": 0.3, "run": 0.05, "flue_temperature": 0.0}[unknown]


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("unknown", QUESTIONS)
def test_every_question_inverts_capacity(name, unknown):
    # 1,000 random vents each: the capacity asked at what was found is the heat input it was found for.
    plant = CASES[name]
    if plant is PRESSURE and unknown in ("flue_temperature", "height"):
        pytest.skip("its fan drives it at any height and temperature")
    sizes = random_sizes(plant, 1000, seed=sorted(QUESTIONS).index(unknown))
    most = vent_sizing.capacity(plant, SPRING, **sizes)
    there = np.isfinite(most.m)
    assert there.mean() > 0.95
    sizes = {n: v[there] for n, v in sizes.items()}
    others = {n: v for n, v in sizes.items() if n != unknown}
    found = QUESTIONS[unknown](plant, SPRING, heat_input=most[there], **others)
    # What lies at the end of the range searched is no root: a vent that works with 0.3 m of height, or of itself with
    # the least diameter.
    known = np.isfinite(found.m) & (found.m > 1.001 * least(plant, unknown))
    assert known.mean() > 0.9
    others = {n: v[known] for n, v in others.items()}
    again = vent_sizing.capacity(plant, SPRING, **others, **{unknown: found[known]})
    off = np.abs((again / most[there][known]).m_as("") - 1.0)
    # A hood's run that condenses is worked in pieces whose number changes with the size: the margin has steps of a few
    # millipascal there, and so the capacity (7e-5 at worst).
    assert np.max(off) < (1e-4 if (name, unknown) == ("draft hood", "diameter") else 1e-6)


@settings(max_examples=60, deadline=None)
@given(
    low=st.floats(-5.0, 0.9),
    high=st.floats(1.1, 30.0),
    power=st.sampled_from([1.0, 2.0, 3.0, 5.0]),
)
def test_roots_are_found_to_rounding(low, high, power):
    found = false_position.zero_between(
        lambda x: np.sign(x) * np.abs(x) ** power - 1.0, np.array([low, high]), np.array([high, low])
    )
    assert found == pytest.approx([1.0, 1.0], abs=1e-10)


# --- Monotonic where physics says so -----------------------------------------------------------------------


def outlet_as_wide(plant, inch):
    a = replace(plant.appliances[0], outlet_diameter=Q_(inch, "inch"))
    return replace(
        plant, appliances=(a,), sections=tuple(replace(s, diameter=Q_(inch, "inch")) for s in plant.sections)
    )


@pytest.mark.parametrize("name", CASES)
def test_wider_takes_more(name):
    found = [vent_sizing.capacity(outlet_as_wide(CASES[name], d), SPRING).m for d in (4.0, 5.0, 6.0, 8.0, 10.0, 12.0)]
    assert np.all(np.diff(found) > 0.0)


@pytest.mark.parametrize("name", ["draft hood", "fan-assisted", "natural draft"])
def test_higher_takes_more_and_longer_takes_less(name):
    heights = vent_sizing.capacity(CASES[name], SPRING, height=Q_(np.arange(8.0, 60.0, 4.0), "ft")).m
    assert np.all(np.diff(heights) > 0.0)
    runs = vent_sizing.capacity(CASES[name], SPRING, run=Q_(np.arange(1.0, 30.0, 3.0), "ft")).m
    assert np.all(np.diff(runs) < 0.0)


def test_colder_weather_draws_better():
    assert vent_sizing.capacity(HOOD, WINTER) > vent_sizing.capacity(HOOD, SPRING)


@pytest.mark.parametrize("name", ["draft hood", "fan-assisted", "natural draft"])
def test_thin_air_takes_less(name):
    high = replace(CASES[name], altitude=Q_(7000.0, "ft"))
    assert vent_sizing.capacity(high, SPRING) < 0.85 * vent_sizing.capacity(CASES[name], SPRING)


def test_more_input_needs_more_of_everything():
    inputs = Q_(np.array([110.0, 120.0, 135.0, 150.0]), "MBH")
    for ask in (vent_sizing.smallest_diameter, vent_sizing.least_height):
        assert np.all(np.diff(ask(HOOD, SPRING, heat_input=inputs).m) > 0.0)
    assert np.all(np.diff(vent_sizing.longest_run(HOOD, SPRING, heat_input=inputs).m) < 0.0)


# --- Questions with no answer, and refusals ------------------------------------------------------------------


def test_one_case_without_an_answer_raises_and_many_are_nan():
    with pytest.raises(vent_sizing.NoAnswer, match="no height"):
        vent_sizing.least_height(HOOD, SPRING, heat_input=Q_(900.0, "MBH"))
    found = vent_sizing.least_height(HOOD, SPRING, heat_input=Q_(np.array([100.0, 900.0]), "MBH"))
    assert np.isfinite(found.m[0]) and np.isnan(found.m[1])
    with pytest.raises(vent_sizing.NoAnswer, match="no diameter"):
        vent_sizing.smallest_diameter(HOOD, SPRING, heat_input=Q_(5000.0, "MBH"))
    with pytest.raises(vent_sizing.NoAnswer, match="no run"):
        vent_sizing.longest_run(HOOD, SPRING, heat_input=Q_(400.0, "MBH"))


def test_where_the_outlet_s_own_size_does_it_is_the_answer():
    assert vent_sizing.smallest_diameter(HOOD, SPRING, heat_input=Q_(40.0, "MBH")).m_as("inch") == pytest.approx(4.0)


def test_category_not_allowed_in_that_vent():
    condensing = heater("forced", "IV", (-10.0, 60.0), degf=140.0)
    with pytest.raises(ValueError, match="may serve category I, not IV"):
        vent_sizing.capacity(on_vent(condensing), SPRING)
    with pytest.raises(ValueError, match="hotter than"):
        vent_sizing.capacity(on_vent(heater("forced", degf=600.0)), SPRING)
    with pytest.raises(ValueError, match="not a listed vent"):
        vent_sizing.capacity(on_vent(condensing, vent="CPVC pipe"), SPRING)
    named = replace(condensing, named_materials=("CPVC pipe",))
    assert vent_sizing.capacity(on_vent(named, vent="CPVC pipe"), SPRING).m_as("MBH") > 0.0


@pytest.mark.parametrize("ask", [draft_margin.margin, vent_sizing.capacity, vent_at_work.operate])
def test_vent_narrower_than_the_outlet(ask):
    with pytest.raises(ValueError, match="3 in wide, less than the outlet of Heater, 4 in"):
        ask(on_vent(heater(), inch=3.0), SPRING)


def test_narrow_diameter_among_many():
    with pytest.raises(ValueError, match="less than the outlet"):
        vent_sizing.capacity(HOOD, SPRING, diameter=Q_(np.array([6.0, 3.0]), "inch"))


@pytest.mark.parametrize(
    ("name", "value"),
    [("heat_input", Q_(0.0, "MBH")), ("heat_input", Q_(-5.0, "MBH")), ("height", Q_(0.0, "ft")),
     ("run", Q_(-1.0, "ft")), ("diameter", Q_(np.nan, "inch"))],
)  # fmt: skip
def test_zero_flow_and_other_impossible_sizes(name, value):
    with pytest.raises(ValueError, match=name):
        draft_margin.margin(HOOD, SPRING, **{name: value})


def test_flue_temperature_below_its_dew_point():
    with pytest.raises(ValueError, match="dew point"):
        draft_margin.margin(HOOD, SPRING, flue_temperature=Q_(90.0, "degF"))


def test_what_is_asked_for_is_not_given_and_names_are_known():
    with pytest.raises(TypeError, match="leave it out"):
        vent_sizing.capacity(HOOD, SPRING, heat_input=Q_(1.0, "kW"))
    with pytest.raises(TypeError, match="unknown size lateral"):
        vent_sizing.capacity(HOOD, SPRING, lateral=Q_(1.0, "ft"))
    with pytest.raises(UnitsError, match="height"):
        vent_sizing.capacity(HOOD, SPRING, height=Q_(1.0, "kW"))


def test_one_appliance_only():
    school = job_file.load(tables.DATA / "jobs" / "school.toml")
    with pytest.raises(ValueError, match="for one on its own vent"):
        vent_sizing.capacity(school.plant, school.seasons[0])


def test_flue_gas_thinner_than_the_hood_s():
    with pytest.raises(ValueError, match="thinner before its draft hood"):
        vent_sizing.capacity(on_vent(heater(excess=2.0)), SPRING)


def test_a_vent_must_have_what_is_asked_for():
    flat = replace(HOOD, sections=(replace(HOOD.sections[0], into="top"),))
    with pytest.raises(ValueError, match="no section of the vent is upright"):
        vent_sizing.least_height(flat, SPRING)
    upright = replace(HOOD, sections=(HOOD.sections[1],), feeds=("rise",))
    with pytest.raises(ValueError, match="every section of the vent is upright"):
        vent_sizing.longest_run(upright, SPRING)


# --- Around the questions -------------------------------------------------------------------------------------


def test_the_laundry_s_run_is_beyond_its_instructions_and_beyond_its_fan():
    laundry = job_file.load(tables.DATA / "jobs" / "laundry.toml")
    plant, season = laundry.plant, laundry.seasons[0]
    assert vent_sizing.longest_run(plant, season) < 0.5 * single_vent.run_section(plant).length
    equivalent = vent_at_work.equivalent_length(plant, season)
    assert equivalent > plant.appliances[0].longest_run
    # Lengths 97 ft; K of its fittings 2.85 and of the wall terminal 1.0, at f 0.024 to 0.025 of smooth plastic
    # (Colebrook, 0.05 mm in 4 in. at Re about 31,000): another 51 to 54 ft.
    assert 97.0 + 50.0 < equivalent.m_as("ft") < 97.0 + 56.0
    # One size up the fan carries it as drawn. The instructions still do not allow the run.
    wider = replace(plant, sections=tuple(replace(s, diameter=Q_(5.0, "inch")) for s in plant.sections))
    assert vent_sizing.longest_run(wider, season) > single_vent.run_section(plant).length


def test_sizes_that_are_sold():
    assert nominal_sizes.next_size(Q_(4.2, "inch")) == Q_(5.0, "inch")
    assert nominal_sizes.next_size(Q_(6.0, "inch")) == Q_(6.0, "inch")
    assert nominal_sizes.next_size(Q_(101.0, "mm"), "SI") == Q_(110.0, "mm")
    with pytest.raises(ValueError, match="largest size"):
        nominal_sizes.next_size(Q_(60.0, "inch"))


def test_oversize_is_called_slow_and_cold():
    wide = single_vent.single_vent(
        heater(mbh=20.0), Q_(30, "ft"), Q_(12, "inch"), material("tile-lined masonry chimney"), place="outdoors"
    )
    told = " ".join(vent_at_work.cautions(vent_at_work.operate(wide, WINTER)))
    assert "large for this input" in told and "below the dew point" in told
    assert vent_at_work.cautions(vent_at_work.operate(HOOD, SPRING, heat_input=Q_(80.0, "MBH"))) == ()


@pytest.mark.parametrize("question", [vent_sizing.capacity, *QUESTIONS.values()], ids=lambda f: f.__name__)
def test_same_question_in_si_units(question):
    si = drawn_to(HOOD, diameter=Q_(127.0, "mm"), height=Q_(6.096, "m"), run=Q_(1.524, "m"))
    season = Season("spring", Q_(288.7055555555555, "K"), Q_(294.2611111111111, "K"))
    assert question(si, season).to_base_units().m == pytest.approx(question(HOOD, SPRING).to_base_units().m, rel=1e-9)


# --- Behind a draft hood: data/vent/draft_hood_checks.csv ------------------------------------------------------------

HOODS = {row["id"]: row for row in tables.read("draft_hood_checks")}


@pytest.mark.parametrize(("key", "burned"), [("DH003", "natural gas"), ("DH004", "propane")])
def test_mass_flow_behind_a_hood_follows_from_its_co2(key, burned):
    # Both from memory, so that they hang together and prove no more: 1.54 lb per 1000 Btu at 5.3 % (DH001), 1.59 at
    # 6.0 % (DH002). A full balance of the elements gives 2.4 and 2.9 % more than the handbook's equation
    # (C039 to C041 of combustion_checks say the same, published): 0.04 and 0.05 lb, outside the 0.03 of the row.
    co2 = float(HOODS[{"DH003": "DH001", "DH004": "DH002"}[key]]["value"])
    gas = fuel(burned)
    excess = combustion_analysis.excess_air_from_co2(gas, Q_(co2, "percent"))
    ours = combustion.flue_gas_per_heat(gas, excess).m_as("lb/(MBH*hour)")
    assert 1.02 < ours / float(HOODS[key]["value"]) < 1.05


def test_conditions_that_sizing_takes_are_those_of_the_handbook():
    taken = {
        "DH001": 100.0 * draft_margin.HOOD_CO2,
        "DH005": 8.0,
        "DH006": HOOD_RISE.m_as("K"),
        "DH008": FAN_RISE.m_as("K"),
    }
    for key, ours in taken.items():
        assert ours == pytest.approx(float(HOODS[key]["value"]), abs=1e-9)


def test_a_hood_s_rise_is_that_of_its_gas_thinned_with_room_air():
    # DH006 and DH007: 165 K above the room behind a hood, 225 K without, both published, a mean over the vent. Gas
    # of 8 % CO2 (DH005) that stands 225 K above the room, thinned to 5.3 %, stands 149 K above it: heat over flow, 10 %
    # below 165, which the handbook rounds for vents of all kinds.
    excess = [
        combustion_analysis.excess_air_from_co2.bare(GAS, float(HOODS[k]["value"]) / 100.0) for k in ("DH005", "DH001")
    ]
    before, behind = (combustion.products.bare(GAS, e).mass_per_heat for e in excess)
    rise = float(HOODS["DH007"]["value"]) * before / behind
    assert rise == pytest.approx(float(HOODS["DH006"]["value"]), rel=0.11)


def test_draft_of_a_water_heater_in_order():
    # DH009: 0.02 to 0.04 in. w.c. at a gas water heater in order, a training page's order of size (50 %). Ours: 40 MBH
    # on 4 in. Type B, 12 ft high, two elbows, on a mild day.
    heater_vent = on_vent(heater(inch=3.0, mbh=40.0, degf=440.0), height=12.0, inch=4.0)
    draft = -vent_at_work.operate(heater_vent, SPRING).outlet_pressure.m_as("inH2O")
    assert 0.5 * float(HOODS["DH009"]["value"]) < draft < 1.5 * 2.0 * float(HOODS["DH009"]["value"])


def test_every_hood_row_is_used():
    assert set(HOODS) == {f"DH00{n}" for n in range(1, 10)}
