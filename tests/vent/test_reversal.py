"""Reversal: hazards that are really there, and flue gas told from air."""

import re
from dataclasses import replace

import numpy as np
import pytest
from sample_studies import STUDIES

from ventcalc import tables
from ventcalc.gas import combustion
from ventcalc.gas.fuels import fuel
from ventcalc.job import findings, job_file, spillage_findings
from ventcalc.job.surroundings import Surroundings
from ventcalc.vent import firing_states, reversal
from ventcalc.vent.network import room_vapor
from ventcalc.vent.states import States

JOBS = tables.DATA / "jobs"


def test_reversal_needs_a_leak_and_a_fire(swim_hall):
    found = {r.appliance: r for r in reversal.reversals(swim_hall)}
    assert set(found) == {"Boiler 1", "Boiler 2", "Boiler 3"}
    for r in found.values():
        i = [a.name for a in swim_hall.plant.appliances].index(r.appliance)
        assert swim_hall.states.codes[i, r.state] == 0 and swim_hall.any_firing[r.state]
        assert swim_hall.solution.drawn[i, r.state] == pytest.approx(-r.flow)
        assert swim_hall.solution.outlet_pressure[i, r.state] > 0


def test_a_reversal_is_chosen_by_its_flue_gas_and_tells_both(swim_hall):
    """The largest backflow of this plant is purge air of a neighbor; the danger is the flue gas, less in all."""
    for r in reversal.reversals(swim_hall):
        assert r.dangerous and r.flue_gas <= r.flow <= r.most and r.states <= r.most_states
    first = reversal.reversals(swim_hall)[0]
    assert " high" in swim_hall.describe(first.state) and first.most > 1.1 * first.flow
    flue_gas, share = reversal.flue_gas_in_room(swim_hall)
    assert ((share >= 0.0) & (share <= 1.0)).all() and (flue_gas[share == 0.0] == 0.0).all()


def test_air_that_a_neighbor_purges_is_no_flue_gas(swim_hall):
    # Boiler 3 at its lowest sends its flue gas down the vent beyond the junction of Boiler 1; Boiler 2 purges between.
    codes = np.array([[0], [1], [2]])
    states = States(codes, np.array([2]), np.ones(1, bool), np.zeros(1, bool))
    scan = firing_states.of_states(swim_hall.plant, swim_hall.seasons, states, 1, False)
    assert reversal.gas_in_room(scan)[0, 0]
    (found,) = (r for r in reversal.reversals(scan) if r.appliance == "Boiler 1")
    # Boiler 2 stands between Boiler 1 and the fire, and its purge flows away from Boiler 1 as well as towards it.
    assert not found.dangerous and found.flue_gas == 0.0 and found.states == 0
    assert found.most > reversal.REVERSAL_FLOW and found.most_states == 1
    hall = STUDIES["swim_hall"]
    (told,) = spillage_findings._air(replace(hall, scan=scan, reversals=(found,), around=Surroundings()))
    assert (
        told.weight == "note" and "no flue gas" in findings.sentence(told) and "of a purge" in findings.sentence(told)
    )


def test_air_that_comes_back_where_nothing_purges_falls_from_outdoors_or_is_the_rooms():
    """Without purges no air is told as one. Of the continuity of mass: what falls from outdoors enters by the
    termination; where the termination gives off, what comes back was drawn in by another way."""
    school = (JOBS / "school.toml").read_text(encoding="utf-8")
    loaded = job_file.read(re.sub(r"(?m)^purge_.*\n", "", school).encode())
    scan = firing_states.scan(loaded.plant, loaded.seasons)
    airs = [air for r in reversal.reversals(scan) for air in r.airs]
    assert airs and {air.source for air in airs} <= {reversal.OUTDOORS, reversal.ROOM}
    last = scan.solution.row(loaded.plant.order[-1].name)
    for air in airs:
        assert (scan.solution.flow[last, air.state] < 0.0) or air.source == reversal.ROOM
    entering = reversal.gas_in_room(scan)
    for i in range(len(loaded.plant.appliances)):
        of = reversal.air_sources(scan, i)
        assert (np.sum(list(of.values()), axis=0) == 1).all() and not of[reversal.PURGE].any()
        assert not (of[reversal.OUTDOORS] & entering[i] & (scan.solution.flow[last] > 0.0)).any()


def test_a_hood_that_is_turned_over_lets_its_own_flue_gas_out_whole():
    """A purge that comes down the hood's connector pushes all the hood makes into the room: no less than its burner's.

    By mass: flue gas per heat of its fuel and excess air (stoichiometry) times its input.
    """
    school = job_file.load(JOBS / "school.toml")
    codes = np.array([[1], [1], [1]])  # heater on, both boilers purge, in winter wind that stands against the vent
    states = States(codes, np.array([0]), np.ones(1, bool), np.ones(1, bool), np.array([1]))
    scan = firing_states.of_states(school.plant, school.seasons, states, 1, False)
    row = scan.solution.row(school.plant.feeds[0])
    turned = int(scan.solution.flow[row].argmin())
    assert scan.solution.flow[row, turned] < 0.0
    heater = school.plant.appliances[0]
    own = float(heater.levels[0].heat_input.m_as("W")) * reversal.burning(scan, 0, turned)[0].mass_per_heat
    flue_gas, share = reversal.flue_gas_in_room(scan)
    assert flue_gas[0, turned] == pytest.approx(own, rel=0.02) and share[0, turned] < 0.9


def test_no_more_flue_gas_comes_back_than_the_burners_make():
    """With two fuels in one vent a hood lets out its own gas whole, and what comes down the vent is the other's: held
    against its own, of less carbon dioxide, it was told as flue gas where a quarter of it is air.

    By the continuity of mass: what all burners make by the stoichiometry of their fuels, in the air of their room.
    """
    school = job_file.demonstration("school")
    oil = [replace(a, fuel=fuel("no. 2 oil")) if a.kind == "forced" else a for a in school.plant.appliances]
    plant = replace(school.plant, appliances=tuple(oil))
    scan = firing_states.scan(plant, school.seasons)
    entering, made = reversal.flue_gas_in_room(scan)[0].sum(axis=0), np.zeros(scan.states.season.size)
    for i, a in enumerate(plant.appliances):
        for k, level in enumerate(a.levels, len(a.states) - len(a.levels)):
            for s, season in enumerate(scan.seasons):
                vapor = room_vapor(season, scan.solution.barometric, a.room)
                burnt = combustion.products.bare(a.fuel, level.excess_air, vapor)
                here = (scan.states.codes[i] == k) & (scan.states.season == s)
                made[here] += burnt.mass_per_heat * float(level.heat_input.m_as("W"))
    assert (entering > 0.9 * made)[made > 0.0].any()  # of some states all comes back
    assert (entering <= made * (1.0 + 1e-3)).all()


def test_sealed_appliances_let_nothing_back():
    text = (JOBS / "swim_hall.toml").read_text(encoding="utf-8")
    loaded = job_file.read(re.sub(r'idle = "leaking"\nleak = .*\n', 'idle = "sealed"\n', text).encode())
    assert reversal.reversals(firing_states.scan(loaded.plant, loaded.seasons)) == ()
