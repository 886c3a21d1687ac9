"""A barometric draft control: by hand, and against one equation of a vent that does not cool."""

from dataclasses import replace

import numpy as np
import pytest
from sample_dampers import WINTER, one_state
from sample_plants import row_plant
from scipy.optimize import brentq

from ventcalc.draft import barometric_control
from ventcalc.units import Q_
from ventcalc.vent.common_vent import solve
from ventcalc.vent.network import REGULATOR_BAND, REGULATOR_LEAKAGE, Season
from ventcalc.vent.states import States

REGULATED = row_plant(1, kind="barometric", celsius=220.0, stack_height=15.0)


def by_hand(drawn, flue, hot, room, vent, outdoor_density, room_density, resistance, threshold):
    """Mismatch [Pa] of a regulator on a vent that does not cool, every line worked with plain numbers.

    ``vent`` is (height, R of the vent per kg/m3 of its gas, gas constant, barometer). Mixing at equal specific heats;
    warm room air stands 1.2 m high between the room's opening and the outlet.
    """
    height, loss, gas_constant, barometer = vent
    mixed = (flue * hot + drawn * room) / (flue + drawn)
    density = barometer / (gas_constant * mixed)
    pull = 9.80665 * (height * (outdoor_density - density) + 1.2 * (outdoor_density - room_density))
    pull -= loss * (flue + drawn) ** 2 / density
    opening = np.sqrt(threshold / resistance) * REGULATOR_LEAKAGE
    above = drawn - opening
    needed = threshold + resistance * above**2 + REGULATOR_BAND * np.sqrt(threshold * resistance) * above
    return pull - needed


def test_a_regulator_by_hand():
    # The solver's own vent loss and mean densities go into one equation for the drawn air, which a root finder solves.
    solution = solve(REGULATED, (WINTER,), one_state(REGULATED, 2))
    found = barometric_control.regulated(solution, "B1")
    appliance = REGULATED.appliances[0]
    area = np.pi / 4 * appliance.outlet_diameter.m_as("m") ** 2
    room_density = solution.barometric / (287.05 * 293.15)
    resistance = 0.5 / (2.0 * room_density * area**2)
    pull = found.draft[0]

    def needed(drawn):
        above = drawn - np.sqrt(10.0 / resistance) * REGULATOR_LEAKAGE
        return 10.0 + resistance * above**2 + REGULATOR_BAND * np.sqrt(10.0 * resistance) * above - pull

    assert found.drawn[0] == pytest.approx(brentq(needed, 1e-6, 5.0), rel=3e-3)
    # Opening: the share of the open way in that would pass as much at this draft.
    assert found.opening[0] == pytest.approx(found.drawn[0] / np.sqrt(pull / resistance), rel=3e-3)
    assert 10.0 < pull < 25.0
    # Mixing by enthalpy: air at 1.006 and this flue gas at about 1.1 kJ/(kg K); within 2 K.
    flue = solution.flow[0, 0] - found.drawn[0]
    mean = (flue * 1.10 * found.hot[0] + found.drawn[0] * 1.006 * 293.15) / (flue * 1.10 + found.drawn[0] * 1.006)
    assert found.mixed[0] == pytest.approx(mean, abs=2.0)
    assert found.dilution[0] == pytest.approx(found.drawn[0] / flue)


def test_a_regulator_against_one_equation_of_a_vent_that_does_not_cool():
    # An insulated vent cools by 17 K; the hand case has none of it, and its losses are one number, taken from the
    # solution. What it tests is the draft of the diluted gas against the law of the opening.
    insulated = row_plant(1, kind="barometric", celsius=220.0, stack_height=15.0, vent="insulated chimney")
    solution = solve(insulated, (WINTER,), one_state(insulated, 2))
    found = barometric_control.regulated(solution, "B1")
    flow = solution.flow[0, 0]
    flue, area = flow - found.drawn[0], np.pi / 4 * 0.2**2
    heights = sum(s.rise.m_as("m") for s in insulated.order)
    gas_constant = solution.barometric / (solution.density[0, 0] * solution.downstream[0, 0])
    lost = solution.draft[:, 0].sum() + solution.room_gauge[0, 0] - found.draft[0]
    loss = lost * solution.density[0, 0] / flow**2
    room_density, outdoor_density = (solution.barometric / (287.05 * t) for t in (293.15, 253.15))
    vent = (heights, loss, gas_constant, solution.barometric)
    rest = (room_density, 0.5 / (2.0 * room_density * area**2), 10.0)
    drawn = brentq(lambda d: by_hand(d, flue, found.hot[0], 293.15, vent, outdoor_density, *rest), 1e-4, 3.0)
    assert found.drawn[0] == pytest.approx(drawn, rel=0.1)


def test_a_shut_regulator_leaks_its_share_and_an_open_one_more():
    mild = Season("mild", Q_(15, "degC"), Q_(20, "degC"))
    seasons = (WINTER, Season("summer", Q_(30, "degC"), Q_(30, "degC")), mild)
    states = States(np.array([[2, 2, 0]]), np.array([0, 1, 2]), np.zeros(3), np.zeros(3))
    found = barometric_control.regulated(solve(REGULATED, seasons, states), "B1")
    winter, summer, idle = found.opening
    assert winter > 0.3 > summer
    assert idle == pytest.approx(REGULATOR_LEAKAGE, rel=1e-3) and 1.0 < found.draft[2] < 10.0
    assert np.isnan(found.dilution[2]) and found.drawn[0] > found.drawn[1]


def test_a_regulator_takes_draft_off_and_cools():
    sealed = replace(
        REGULATED, appliances=(replace(REGULATED.appliances[0], kind="forced", regulator_draft=None, category="I"),)
    )
    with_it, without = (solve(p, (WINTER,), one_state(p, 2)) for p in (REGULATED, sealed))
    assert with_it.outlet_pressure[0, 0] > without.outlet_pressure[0, 0] + 5.0
    assert with_it.upstream[0, 0] < without.upstream[0, 0] - 30.0


def test_no_regulator_is_no_regulator():
    forced = row_plant(1)
    with pytest.raises(ValueError, match="'B1' has no barometric draft control; those with one: none"):
        barometric_control.regulated(solve(forced, (WINTER,), one_state(forced, 1)), "B1")
    between = solve(REGULATED, (WINTER,), one_state(REGULATED, 1.5))
    some = States(np.array([[2.0, 1.5]]), np.zeros(2, int), np.zeros(2), np.zeros(2))
    for solution in (between, solve(REGULATED, (WINTER,), some)):
        with pytest.raises(ValueError, match="give whole codes"):
            barometric_control.regulated(solution, "B1")
