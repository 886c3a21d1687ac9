"""Dilution air: hoods against the handbook and the code's tables, regulators, gas that comes back."""

import math
from dataclasses import replace

import numpy as np
import pytest
from sample_plants import (
    SEASONS,
    appliance,
    lone_hood,
    one_state,
    prescribed,
    row_plant,
    with_sections,
)

from ventcalc import tables
from ventcalc.flow.materials import material
from ventcalc.gas.appliance import FiringLevel
from ventcalc.gas.combustion import products
from ventcalc.units import Q_
from ventcalc.vent.common_vent import solve
from ventcalc.vent.dilution_air import entry_pressure, opening_flow
from ventcalc.vent.layout import Plant, Section, Termination
from ventcalc.vent.network import Season, compile_network


def vent_co2(plant, found, state):
    """CO2 in the vent, share of dry gas by volume, where all appliances fire at their highest level."""
    burnt = products.bare(plant.appliances[0].fuel, plant.appliances[0].levels[-1].excess_air).gas
    sent = prescribed(plant, found.seasons, found.states)[:, state].sum() / burnt.molar_mass
    air = found.drawn[:, state].sum() / 0.0289
    return sent * burnt.co2 / (sent * (1 - burnt.h2o) + air)


def test_a_hood_dilutes_to_the_handbooks_range():
    # The chimney handbook (from memory) counts on 5.3 % CO2 in the vent of a natural gas appliance with a draft hood.
    # What is drawn follows from the vent, so that the figure stands for a range. In mild weather at full fire this
    # boiler (9.3 % CO2 before the hood) comes out at 6.2 % on 3 m of stack, 5.1 % on 6 m, 4.5 % on 10 m, 4.0 % on 20 m.
    shares = {}
    for height in (3.0, 6.0, 10.0, 20.0):
        found = solve(lone_hood(height), SEASONS, one_state([2], season=1))
        shares[height] = vent_co2(lone_hood(height), found, 0)
    assert shares[3.0] > 0.053 > shares[10.0]
    assert list(shares.values()) == pytest.approx([0.062, 0.051, 0.045, 0.040], abs=0.001)  # a pin of our own numbers


def table_vent(row):
    """The vent of a cell of the code's table: one draft hood on Type B, a lateral with two elbows, then a riser."""
    wall, bore = material("Type B gas vent"), Q_(float(row["diameter_in"]), "inch")
    height, lateral = (Q_(float(row[f"{name}_ft"]), "ft") for name in ("height", "lateral"))
    level = FiringLevel("full", Q_(float(row["nat_max_MBH"]), "MBH"), 0.4, Q_(480, "degF"))
    hood = replace(appliance("A", kind="draft hood"), levels=(level,), outlet_height=Q_(0, "m"), outlet_diameter=bore)
    pieces = [Section("riser", height, height, bore, wall, "top")]
    if lateral.magnitude > 0:
        pieces.insert(0, Section("lateral", lateral, Q_(0, "ft"), bore, wall, "riser", fittings=("elbow 90",) * 2))
    end = (Termination("top", "low-resistance cap"),)
    return Plant(row["id"], Q_(0, "m"), Q_(0, "m"), (hood,), (pieces[0].name,), tuple(pieces), end)


def test_at_the_code_tables_capacity_a_hood_dilutes_to_the_handbooks_share():
    # IFGC 2018 Table 504.2(1), natural draft (published cells: read in a secondary source). The handbook (from memory)
    # counts on 5.3 % CO2 with a draft hood. At the code's greatest input, of 40 % excess air and 480 degF before the
    # hood (common practice, no source) in air of 60 degF, the vent is found to hold 4.9 to 5.3 %, and no hood spills.
    # Other fair guesses (30 %, 400 degF; 50 %, 550 degF) shift all of it by a quarter of a per cent.
    mild = (Season("60 degF", Q_(60, "degF"), Q_(60, "degF")),)
    table = [row for row in tables.read("vent_capacity_checks") if row["table"] == "504.2(1)"]
    rows = [row for row in table if row["status_nat_max"].startswith("published")]
    assert len(rows) >= 14
    for row in rows:
        plant = table_vent(row)
        found = solve(plant, mild, one_state([1]))
        assert found.drawn[0, 0] > 0.0
        assert vent_co2(plant, found, 0) == pytest.approx(0.053, abs=0.005), row["id"]


def test_a_hood_spills_where_the_stack_is_too_low_too_narrow_or_pulled_back():
    full = one_state([2], season=1)
    assert solve(lone_hood(6.0), SEASONS, full).drawn[0, 0] > 0.0
    # On 1.5 m in summer, with exhaust fans pulling 3 Pa on the room, flue gas comes out of the hood.
    assert solve(lone_hood(1.5), SEASONS, one_state([2], season=2)).drawn[0, 0] < 0.0
    narrow = with_sections(lone_hood(6.0), stack={"diameter": Q_(100, "mm")})
    assert solve(narrow, SEASONS, full).drawn[0, 0] < 0.0
    # Walls still cold at light-off: less is drawn than once they are warm.
    warm, cold = (solve(lone_hood(6.0), SEASONS, one_state([2], season=1, cold=c)).drawn[0, 0] for c in (False, True))
    assert 0.0 < cold < warm
    # A room pulled down by 40 Pa draws the vent backward; then the hood spills all that burns and more.
    pulled = (replace(SEASONS[1], room_pressure=Q_(-40, "Pa")),)
    found = solve(lone_hood(6.0), pulled, one_state([2]))
    assert found.flow[0, 0] < 0.0 and found.drawn[0, 0] < -prescribed(lone_hood(6.0), pulled, one_state([2]))[0, 0]
    assert found.upstream[0, 0] == pytest.approx(293.15, abs=15.0)  # outdoor air of 10 degC, warmed by the room


def test_a_hood_is_at_room_pressure_less_its_own_loss():
    # All that enters the vent passes the hood's opening: half a velocity head of room air is lost there.
    found = solve(lone_hood(6.0), SEASONS, one_state([2], season=1))
    density = compile_network(lone_hood(6.0), SEASONS).room_density[1]
    loss = 0.5 * (found.flow[0, 0] / (math.pi * 0.175**2 / 4)) ** 2 / (2 * density)
    assert found.pressure_up[0, 0] - found.room_gauge[0, 0] == pytest.approx(-loss, abs=2e-4)


@pytest.mark.parametrize("kind", ["draft hood", "barometric"])
def test_gas_that_blows_into_the_room_loses_its_whole_velocity_head(kind):
    # A free jet keeps nothing of its head (Borda and Carnot; any fluid mechanics textbook): the static pressure in the
    # mouth of the hood is that of the room, not half a head below it; a shut regulator leaves 2 % of the area.
    plant = lone_hood(6.0) if kind == "draft hood" else row_plant(1, kind=kind, celsius=200.0, junction=None)
    pulled = (replace(SEASONS[1], room_pressure=Q_(-40, "Pa")),)
    found = solve(plant, pulled, one_state([0]))
    mouth = float(compile_network(plant, pulled).outlet_area[0])
    volume = 1.0 / (found.pressure_up[0, 0] + compile_network(plant, pulled).pressure) * 287.0 * found.upstream[0, 0]
    head = 0.5 * (found.drawn[0, 0] / mouth) ** 2 * volume
    blown = found.pressure_up[0, 0] - found.room_gauge[0, 0]
    assert found.drawn[0, 0] < 0.0 and blown == pytest.approx(
        head * (1.0 if kind == "draft hood" else 50.0**2), rel=0.01
    )
    if kind == "draft hood":
        assert found.outlet_pressure[0, 0] == pytest.approx(0.0, abs=0.02)


@pytest.mark.parametrize("height", [15.0, 25.0, 40.0])
def test_a_regulator_holds_its_draft(height):
    # Set to 10 Pa. Without it the stack's draft at the outlet goes from 85 to 184 Pa; with it from 12.3 to 14.1 Pa:
    # the regulator opens over a band of 2 Pa and then has a loss of its own. What it holds is total pressure.
    plant = row_plant(
        1, kind="barometric", celsius=200.0, vent="Type B gas vent", stack_height=height, kilowatts=200.0,
        connector_mm=250.0, header_mm=250.0, junction=None,
    )  # fmt: skip
    found = solve(plant, SEASONS, one_state([2]))
    held = found.room_gauge[0, 0] - found.pressure_up[0, 0]
    assert 10.0 < held < 14.5 and found.drawn[0, 0] > 0.0
    forced = replace(plant, appliances=(replace(plant.appliances[0], kind="forced", regulator_draft=None),))
    found = solve(forced, SEASONS, one_state([2]))
    assert found.room_gauge[0, 0] - found.pressure_up[0, 0] > 80.0


def test_a_shut_regulator_leaks_little():
    # On a low stack the draft stays below 10 Pa: only 2 % of the opening (common practice) lets air in.
    low = {"stack_height": 1.0, "kilowatts": 50.0, "connector_mm": 200.0, "header_mm": 200.0}
    plant = row_plant(1, kind="barometric", celsius=120.0, junction=None, **low)
    found = solve(plant, SEASONS, one_state([2], season=2))
    draft = found.room_gauge[0, 0] - found.pressure_up[0, 0]
    density = compile_network(plant, SEASONS).room_density[2]
    leak = 0.02 * (math.pi * 0.2**2 / 4) * math.sqrt(2 * density * draft / 0.5)
    assert 0.5 < draft < 10.0
    assert found.drawn[0, 0] == pytest.approx(leak, rel=1e-3)


def test_flue_gas_comes_out_of_an_idle_boiler_on_a_positive_header():
    # Two of three force their gas into a low, narrow, cold vent. The third is off and leaks 10 cfm at 25 Pa.
    # The gas cools and loses a third of its water on cold walls, so the stack must be low to leave pressure.
    plant = row_plant(3, idle="leaking", celsius=70.0, stack_height=2.0, header_mm=250.0)
    for season in range(3):
        found = solve(plant, SEASONS, one_state([2, 2, 0], season=season, cold=True))
        over = found.pressure_up[found.row("connector 3"), 0] - found.room_gauge[2, 0]
        density = compile_network(plant, SEASONS).room_density[season]
        assert over > 3.0 and found.drawn[2, 0] < 0.0
        leak = Q_(10, "cfm").m_as("m**3/s") * density * math.sqrt(over / 25.0)
        assert found.drawn[2, 0] == pytest.approx(-leak, rel=1e-3)
        assert found.upstream[found.row("connector 3"), 0] > 293.15  # warm, and full of flue gas
        assert found.vapor[found.row("connector 3"), 0] > 0.08


@pytest.mark.parametrize("threshold", [0.0, 12.0])
@pytest.mark.parametrize("on_total", [False, True])
def test_the_slope_of_a_way_in_is_that_of_its_pressure(threshold, on_total):
    """By central differences, drawn in and blown out, and about no flow at all, where the pressure is none."""

    def way_in(drawn):
        return entry_pressure(drawn, 0.02 if on_total else 0.0, 400.0, 1.1, 150.0, threshold, on_total)

    opens = float(opening_flow(threshold, 400.0)) if threshold else 0.3
    for drawn in (-0.2, -0.05, -1e-3, 1e-3, 0.5 * opens, 2.0 * opens, 5.0 * opens):
        step = 1e-6 * abs(drawn)
        by_hand = (way_in(drawn + step)[0] - way_in(drawn - step)[0]) / (2.0 * step)
        assert way_in(drawn)[1] == pytest.approx(by_hand, rel=1e-5) and way_in(drawn)[1] > 0.0
    still = way_in(-0.02 if on_total else 0.0)
    assert still[0] == 0.0 and 0.0 < still[1] < np.inf


def test_a_regulator_opens_at_its_threshold_and_further_from_there():
    """From its draft on the pressure rises with the flow beyond the leak, and by more than an open hole's."""
    leak = float(opening_flow(12.0, 400.0))
    beyond = np.array([1e-4, 0.05, 0.1])
    found = np.array([entry_pressure(leak + q, 0.0, 400.0, 1.1, np.inf, 12.0, False)[0] for q in beyond])
    assert found[0] == pytest.approx(12.0, abs=0.05) and (np.diff(found) > 0.0).all()
    assert (found[1:] - 12.0 > 400.0 * beyond[1:] ** 2).all()
