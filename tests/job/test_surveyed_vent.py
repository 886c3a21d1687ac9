"""Surveyed vent: as drawn it reads what the solver says, and causes move it by what can be worked by hand."""

import numpy as np
import pytest
from sample_plants import row_plant
from sample_remedies import job_of

from ventcalc.flow import heat_loss
from ventcalc.job.changed_network import joined
from ventcalc.job.performance_test import Weather
from ventcalc.job.survey import Condition, Place
from ventcalc.job.survey_causes import blockage_loss, causes
from ventcalc.job.surveyed_vent import Read, SurveyedVent
from ventcalc.units import Q_
from ventcalc.vent import end_of_header
from ventcalc.vent.common_vent import solve_network

JOB = job_of(row_plant(2))
DAY = Weather(Q_(5.0, "degC"), Q_(20.0, "degC"))
FIRE = Condition(("high", "high"), False, DAY)
ONE = Condition(("high", "off"), False, DAY)


@pytest.fixture(scope="module")
def vent():
    return SurveyedVent(JOB, (FIRE, ONE))


def read(vent, place, quantity="pressure", condition=FIRE, outdoors=False, **change):
    """What is read in a vent with changes by "name, subject", in each variant."""
    many = max((np.size(v) for v in change.values()), default=1)
    values = {tuple(k.split("/")): np.atleast_1d(np.asarray(v, float)) for k, v in change.items()}
    middle = {k: np.broadcast_to(v, (many,)) for k, v in vent.values(np.zeros((len(vent.inputs), 1))).items()}
    return vent.solve(joined(middle, values), many).read(Read(condition, place, quantity, outdoors))


def test_as_drawn_every_gauge_shows_what_the_solver_finds(vent):
    drawn = solve_network(vent.network, vent.states)
    assert read(vent, Place("outlet", "B1")) == pytest.approx(drawn.outlet_pressure[0, 0], abs=0.01)
    header = end_of_header.far_end_pressure(drawn, vent.network)
    assert read(vent, Place("gauge")) == pytest.approx(header[0], abs=0.01)
    assert read(vent, Place("foot"), "gas temperature") == pytest.approx(
        drawn.downstream[JOB.plant.row("header 2"), 0], abs=1.0
    )
    assert read(vent, Place("room")) == pytest.approx([0.0])


def test_a_blocked_terminal_adds_its_loss_to_every_outlet(vent):
    changes = {"cap loss/top": [0.0, 10.0]}
    one = read(vent, Place("outlet", "B1"), **changes)
    two = read(vent, Place("outlet", "B2"), **changes)
    drawn = solve_network(vent.network, vent.states)
    head = drawn.head_down[JOB.plant.row("stack"), 0]  # rho w^2 / 2 where gas leaves
    assert one[1] - one[0] == pytest.approx(10.0 * head, rel=0.05)
    assert two[1] - two[0] == pytest.approx(one[1] - one[0], rel=1e-3)


def test_a_blocked_connector_is_seen_at_its_own_outlet_alone(vent):
    changes = {"loss/connector 1": [0.0, 5.0]}
    one, two = (np.diff(read(vent, Place("outlet", b), **changes))[0] for b in ("B1", "B2"))
    assert one > 5.0 and abs(two) < 0.05


def test_a_room_under_negative_pressure_lifts_every_outlet_by_as_much(vent):
    lower = {"room_pressure/the boiler room": [0.0, -10.0]}
    assert np.diff(read(vent, Place("outlet", "B1"), **lower)) == pytest.approx([10.0], abs=0.01)
    assert np.diff(read(vent, Place("room"), **lower)) == pytest.approx([-10.0])
    # Against outdoors the outlet stays where it is.
    assert np.diff(read(vent, Place("outlet", "B1"), outdoors=True, **lower)) == pytest.approx([0.0], abs=0.01)


def test_wind_onto_the_terminal_presses_in_calm_too(vent):
    assert np.diff(read(vent, Place("outlet", "B1"), **{"terminal pressure/top": [0.0, 12.0]})) == pytest.approx(
        [12.0], abs=0.05
    )


def test_a_narrow_section_has_a_swifter_stream_of_less_static_pressure(vent):
    narrow = {"narrow/header 2": [1.0, 0.8]}
    wide, swift = read(vent, Place("tap", section="header 2", share=0.5), "velocity", **narrow)
    assert swift / wide == pytest.approx(0.8**-2, rel=0.01)  # continuity
    low = np.diff(read(vent, Place("outlet", "B2"), **narrow))
    assert low > 1.0


def test_an_open_joint_draws_room_air_and_cools_the_stack(vent):
    leak = {"joint/B1": [0.0, 0.003]}
    assert np.diff(read(vent, Place("foot"), "gas temperature", **leak)) < -1.0
    assert np.diff(read(vent, Place("tap", section="connector 1", share=1.0), "O2", **leak)) > 0.003
    assert np.diff(read(vent, Place("outlet", "B1"), "O2", **leak)) == pytest.approx([0.0])


def test_an_appliance_that_stands_open_is_seen_only_while_it_is_off(vent):
    idle = {"idle/B2": [0.0, 0.005]}
    assert np.abs(np.diff(read(vent, Place("outlet", "B1"), **idle))) < 1e-3
    assert np.diff(read(vent, Place("outlet", "B1"), condition=ONE, **idle)) > 0.5


def test_oxygen_and_carbon_dioxide_lie_on_the_line_of_the_fuel(vent):
    off = {"oxygen/B1": [0.0, 0.03]}
    oxygen = read(vent, Place("outlet", "B1"), "O2", **off)
    assert np.diff(oxygen) == pytest.approx([0.03], abs=0.001)
    dioxide = read(vent, Place("outlet", "B1"), "CO2", **off)
    # Methane, 11.7 % CO2 without excess air (textbook); natural gas a little more.
    assert dioxide / (1.0 - oxygen / 0.2095) == pytest.approx([0.118, 0.118], abs=0.002)


def test_insulation_lost_cools_the_gas(vent):
    cause = next(c for c in causes(JOB) if c.code == "insulation_lost")
    changed = {"/".join(k): v for k, v in cause.change(JOB, np.array([1.0, 0.1])).items()}
    assert np.diff(read(vent, Place("foot"), "gas temperature", **changed)) < -2.0


def test_what_the_sums_do_not_tell_is_no_number(vent):
    assert not vent.tells(Read(FIRE, Place("outlet", "B1"), "CO"))
    assert np.isnan(read(vent, Place("outlet", "B1"), "CO")).all()


def test_a_hood_that_is_blocked_off_spills():
    hood = job_of(row_plant(1, kind="draft hood", celsius=180.0, vent="Type B gas vent", stack_height=5.0))
    on = Condition(("high",), False, DAY)
    vent = SurveyedVent(hood, (on,))
    blocked = {("cap loss", "top"): np.array([0.0, blockage_loss(0.97)])}
    middle = {k: np.broadcast_to(v, (2,)) for k, v in vent.values(np.zeros((len(vent.inputs), 1))).items()}
    assert vent.solve(joined(middle, blocked), 2).spills(on).tolist() == [False, True]


def test_the_wall_is_as_warm_as_what_it_loses_makes_it(vent):
    """What a section loses, by the energy balance of its gas, leaves through the outside film alone: Q = h A dT.

    The film is 10 W/(m2 K) in a still room (data/flow, textbook); half way along the wall is near its mean.
    """
    drawn = solve_network(vent.network, vent.states)
    name, row = "header 2", JOB.plant.row("header 2")
    section, pipe = JOB.plant.order[row], vent.network.pipes[row]
    area = section.material.diameter_ratio * np.pi * pipe.diameter * pipe.length
    over = drawn.heat[row, 0] / (heat_loss.STILL_ROOM_FILM * area)
    wall = read(vent, Place("tap", section=name, share=0.5), "surface temperature")[0]
    assert wall - 293.15 == pytest.approx(over, rel=0.03)


def test_a_bare_wall_is_hotter_and_a_cold_one_is_not_asked_for(vent):
    tap, material = Place("tap", section="header 2", share=1.0), JOB.plant.order[0].material.name
    change = {("wall left", s.name): np.array([1.0, 0.1]) for s in JOB.plant.order if s.material.name == material}
    values = joined(vent.values(np.zeros((len(vent.inputs), 2))), change)
    insulated, bare = vent.solve(values, 2).read(Read(FIRE, tap, "surface temperature"))
    assert bare > insulated + 20.0
    cold = Condition(("high", "high"), True, DAY)
    assert vent.tells(Read(FIRE, tap, "surface temperature")) and not vent.tells(Read(cold, tap, "surface temperature"))
