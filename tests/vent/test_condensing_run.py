"""Condensing run: a section with a wet wall against the same laws as a differential equation, and its limits."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sample_plants import SEASONS, row_plant
from wet_run_ode import WetRun

from ventcalc.flow import wall_condensation
from ventcalc.gas import atmosphere, flue_gas, streams
from ventcalc.gas.appliance import stream
from ventcalc.units import GRAVITY
from ventcalc.vent.condensing_run import Transfer, condensing_run
from ventcalc.vent.cooling import cool, inside_film
from ventcalc.vent.network import compile_network

OUTDOORS = 253.15
SINGLE, DOUBLE = "stainless special gas vent single wall", "stainless special gas vent double wall"
PLASTIC = "polypropylene vent"


@cache
def stack(vent, length=20.0):
    """An upright pipe of 0.3 m outdoors, and the flue gas of a low fire."""
    network = compile_network(
        row_plant(1, vent=vent, junction=None, stack_height=length, connector_mm=300.0, header_mm=300.0), SEASONS
    )
    return network.pipes[-1], network.gas[0][:, 0, 1], network.pressure


def run_of(pipe, gas, pressure, flow, inlet, around=OUTDOORS, warm=1.0):
    flow, inlet, around, warm = (np.atleast_1d(np.asarray(v, float)) for v in (flow, inlet, around, warm))
    flow, inlet, around, warm = np.broadcast_arrays(flow, inlet, around, warm)
    return cool(pipe, pressure, flow, inlet, np.repeat(gas[:, None], flow.size, 1), around, warm, None)


def film_of(pipe, gas, pressure, flow, kelvin, around, warm):
    """Whole and convective film of the gas at one temperature."""
    kelvin, around, warm, flow = (np.atleast_1d(np.asarray(v, float)) for v in (kelvin, around, warm, flow))
    film = inside_film(pipe, pressure, gas[:, None], kelvin, around, warm, flow)
    return float(film.inside[0]), float(film.convection[0])


def ode_of(pipe, gas, pressure, flow, inlet, around, warm):
    """The run with the film of the gas at every place; only the Lewis number is that of its mean."""

    def films(kelvin):
        return film_of(pipe, gas, pressure, flow, kelvin, around, warm)

    film, _ = films(inlet)
    exchange = film / (1.0 + film * pipe.outside_resistance * warm) * pipe.surface / flow
    dry = around + (inlet - around) * np.exp(-exchange / streams.specific_heat(gas, inlet))
    middle = 0.5 * (inlet + dry)
    density = pressure / (gas[streams.GAS_R] * middle)
    lewis = streams.conductivity(gas, middle) / (
        density * streams.specific_heat(gas, middle) * wall_condensation.vapor_diffusivity.bare(middle, pressure)
    )
    return WetRun(gas, inlet, around, pressure, films, pipe.outside_resistance * warm, np.pi * pipe.diameter,
                  pipe.length, flow, float(lewis) ** (-2 / 3)).solve()  # fmt: skip


@pytest.mark.parametrize("length", [4.0, 20.0])
@pytest.mark.parametrize("vent", [SINGLE, DOUBLE, PLASTIC])
@pytest.mark.parametrize(("celsius", "flow"), [(65.0, 0.1), (65.0, 0.02), (100.0, 0.05), (150.0, 0.1), (150.0, 0.02)])
def test_a_wet_run_against_pieces_of_ten_centimeters(length, vent, celsius, flow):
    # With the film of the gas at every place; with one film for the run the outlet of 20 m was up to 2.8 K off. Where
    # nothing settles the wall is that of the mean film, up to 0.604 K warmer than with the film of the gas that leaves.
    pipe, gas, pressure = stack(vent, length)
    found = run_of(pipe, gas, pressure, flow, celsius + 273.15)
    expected = ode_of(pipe, gas, pressure, flow, celsius + 273.15, OUTDOORS, 1.0)
    assert found.outlet[0] == pytest.approx(expected["outlet"], abs=0.3)
    assert found.wall[0] == pytest.approx(expected["wall"], abs=0.3 if found.settled[0] > 0.0 else 0.61)
    assert found.settled[0] == pytest.approx(expected["lost"], rel=0.02, abs=1e-6)
    density = expected["lightness"] * pressure * pipe.thin_air
    assert GRAVITY * length * (found.density[0] - density) == pytest.approx(0.0, abs=0.3)


@pytest.mark.parametrize(
    ("celsius", "flow", "around", "warm"),
    [
        (65.0, 0.05, OUTDOORS, 0.0),
        (150.0, 0.05, OUTDOORS, 0.0),
        (65.0, 0.05, 293.15, 1.0),
        (65.0, 1e-3, OUTDOORS, 1.0),
    ],
)
def test_cold_walls_warm_surroundings_and_a_trickle(celsius, flow, around, warm):
    pipe, gas, pressure = stack(PLASTIC)
    found = run_of(pipe, gas, pressure, flow, celsius + 273.15, around, warm)
    expected = ode_of(pipe, gas, pressure, flow, celsius + 273.15, around, warm)
    assert found.outlet[0] == pytest.approx(expected["outlet"], abs=0.3)
    assert found.settled[0] == pytest.approx(expected["lost"], rel=0.02)
    assert GRAVITY * 20.0 * (found.density[0] - expected["lightness"] * pressure * pipe.thin_air) == pytest.approx(
        0.0, abs=0.3
    )
    if warm == 0.0:
        assert found.wall[0] == pytest.approx(around, abs=1e-9)  # light-off: the wall is what surrounds it


def test_a_wet_wall_is_far_warmer_than_a_dry_one_and_water_runs():
    # Above the roof in winter at low fire, 0.03 kg/s at 65 degC in a single wall: as fog in the bulk nothing would
    # condense in 3 m, and the wall would be where its resistances put it.
    pipe, gas, pressure = stack(SINGLE, 3.0)
    found = run_of(pipe, gas, pressure, 0.03, 338.15)
    dry = gas.copy()
    dry[streams.WATER] = 0.0
    bare = run_of(pipe, dry, pressure, 0.03, 338.15)
    assert found.fog[0] == 0.0 and bare.settled[0] == 0.0
    assert found.wall[0] - bare.wall[0] > 8.0
    assert found.drained[0] * 0.03 * 3600.0 > 1.0  # kg/h


@pytest.mark.slow
def test_the_wall_is_that_of_the_balance_at_one_place():
    # The same low fire as a `Gas`; a run so short that bulk and inlet agree. That balance knows no radiation: the run
    # here has none either. Properties half way between bulk and wall there, between the ends of the run here: 0.5 K.
    pipe, gas, pressure = stack(SINGLE, 0.1)
    network = compile_network(row_plant(1, vent=SINGLE), SEASONS)
    appliance = network.plant.appliances[0]
    air = flue_gas.Gas.humid_air(
        float(atmosphere.water_vapor_fraction.bare(253.15, SEASONS[0].relative_humidity, network.pressure))
    )
    burnt = stream(appliance, "low", 293.15, network.pressure, air).gas
    for flow in (0.02, 0.1):
        _, film = film_of(pipe, gas, pressure, flow, 338.15, OUTDOORS, 1.0)
        one, heat = np.ones(1), streams.specific_heat(gas, 338.15)
        diffusivity = wall_condensation.vapor_diffusivity.bare(338.15, pressure)
        density = pressure / (gas[streams.GAS_R] * 338.15)
        lewis = streams.conductivity(gas, 338.15) / (density * heat * diffusivity)
        settling = wall_condensation.mass_transfer_coefficient.bare(film, heat, lewis) / film
        transfer = Transfer(film * pipe.surface / flow * one, film * pipe.outside_resistance * one, settling * one, one,
                            heat * one)  # fmt: skip
        found = condensing_run(gas[:, None], 338.15 * one, OUTDOORS * one, pressure, transfer, one, one, one < 0.0)
        wall = wall_condensation.wall_temperature.bare(
            burnt, float(found.outlet[0]), OUTDOORS, pressure, film, pipe.outside_resistance
        )
        assert found.wall[0] == pytest.approx(wall, abs=0.5)


def test_dry_gas_takes_the_dry_path_and_wet_gas_on_a_warm_wall_agrees_with_it():
    pipe, gas, pressure = stack(DOUBLE)
    inlet = np.linspace(330.0, 550.0, 40)
    bone_dry = gas.copy()
    bone_dry[streams.WATER] = 0.0
    dry = run_of(pipe, bone_dry, pressure, 0.1, inlet)
    assert dry.settled.max() == dry.drained.max() == dry.fog.max() == 0.0


@pytest.mark.parametrize(("vent", "flow", "length"), [(DOUBLE, 0.1, 20.0), (DOUBLE, 0.1, 2.0), (PLASTIC, 0.3, 4.0)])
def test_nothing_jumps_where_the_wall_passes_the_dew_point(vent, flow, length):
    # Inlets 0.01 K apart across the onset: no step may exceed what the same step makes elsewhere by more than the slope
    # changes there, so a bound of twice the largest step on either side, and a few thousandths of a kelvin.
    pipe, gas, pressure = stack(vent, length)
    inlet = np.linspace(340.0, 600.0, 26001)
    found = run_of(pipe, gas, pressure, flow, inlet)
    onset = np.flatnonzero(found.settled > 0.0)[-1]
    assert 100 < onset < inlet.size - 100
    for name, slack in (("outlet", 0.005), ("wall", 0.005), ("density", 1e-5), ("settled", 1e-5)):
        steps = np.abs(np.diff(getattr(found, name)))
        near = steps[onset - 2 : onset + 3].max()
        beside = max(steps[onset - 60 : onset - 10].max(), steps[onset + 10 : onset + 60].max())
        assert near <= 2.0 * beside + slack, name


@given(
    celsius=st.floats(30.0, 250.0),
    log_flow=st.floats(-9.5, 0.0),
    around=st.floats(-40.0, 40.0),
    warm=st.floats(0.0, 1.0),
    vent=st.sampled_from([SINGLE, DOUBLE, PLASTIC]),
    backward=st.booleans(),
    rise=st.sampled_from([-20.0, 0.0, 20.0]),
)
def test_water_and_energy_are_kept_whatever_comes(celsius, log_flow, around, warm, vent, backward, rise):
    pipe, gas, pressure = stack(vent)
    pipe = replace(pipe, rise=rise)
    flow, inlet, around = 10.0**log_flow * (-1.0 if backward else 1.0), celsius + 273.15, around + 273.15
    run = run_of(pipe, gas, pressure, flow, inlet, around, warm)
    for name, values in run._asdict().items():
        assert np.isfinite(values).all(), name
    assert min(inlet, around) - 1e-9 <= run.outlet[0] <= max(inlet, around) + 1e-9
    assert 0.0 <= run.drained[0] <= run.settled[0] <= gas[streams.WATER]
    assert 0.0 <= run.frozen[0] <= run.settled[0] + 1e-15
    # Water: what stays as vapor and fog, and what drained, is what came.
    left = np.empty((gas.size, 1))
    streams.without_water(gas[:, None], run.drained, left)
    assert left[streams.WATER] * (1.0 - run.drained) + run.drained == pytest.approx(gas[streams.WATER], abs=1e-12)
    # Energy: what came is what leaves with the gas, with the water and through the wall.
    size = abs(flow)
    came = size * streams.enthalpy(gas[:, None], np.array([inlet]), pressure)
    goes = size * (1.0 - run.drained) * streams.enthalpy(left, run.outlet, pressure)
    if size > 1e-9 and run.settled[0] > 0.0:
        assert came == pytest.approx(goes + run.heat + run.water_heat, rel=1e-9)
    # Heat leaves towards the colder side.
    assert run.heat[0] * np.sign(inlet - around) >= -1e-6 * size * 1000.0 * abs(inlet - around)


def test_ice_forms_where_the_wall_is_below_freezing_alone():
    pipe, gas, pressure = stack(SINGLE)
    cold, mild = (run_of(pipe, gas, pressure, 0.005, 338.15, around) for around in (243.15, 278.15))
    assert 0.0 < cold.frozen[0] <= cold.settled[0] and cold.wall[0] < 273.15
    assert mild.frozen[0] == 0.0 and mild.wall[0] > 273.16 and mild.settled[0] > 0.0


def test_water_that_runs_back_to_a_warmer_wall_dries_there():
    # 150 degC into 20 m of double wall: the first meters are above the dew point. Upward the water runs back to them;
    # downward it runs on with the gas to ever colder wall.
    pipe, gas, pressure = stack(DOUBLE)
    up = run_of(pipe, gas, pressure, 0.07, 423.15)
    down = run_of(replace(pipe, rise=-20.0), gas, pressure, 0.07, 423.15)
    assert 0.0 < up.drained[0] < up.settled[0]
    assert down.drained[0] == down.settled[0] == pytest.approx(up.settled[0], rel=1e-12)
    # Backward in a rising pipe the gas comes from above and water runs with it.
    back = run_of(pipe, gas, pressure, -0.07, 423.15)
    assert back.drained[0] == back.settled[0]


def test_radiation_of_the_gas_warms_the_wall_but_carries_no_water():
    # A film twice as high by radiation alone: twice the heat to a wall held at one temperature, but as much water. What
    # moves with the vapor takes 4 % from conduction in one case (Ackermann) and 2 % of the whole in the other.
    _, gas, pressure = stack(SINGLE)
    one = np.ones(1)
    settled = []
    for film, convective in ((1.0, 1.0), (2.0, 0.5)):
        transfer = Transfer(20.0 * film * one, 0.0 * one, 1e-3 / film * one, convective * one, 1080.0 * one)
        run = condensing_run(gas[:, None], 338.15 * one, 280.0 * one, pressure, transfer, 0.02 * one, one, one < 0.0)
        settled.append((run.settled[0], run.outlet[0]))
    assert settled[0][0] == pytest.approx(settled[1][0], rel=1e-3)
    assert (338.15 - settled[1][1]) == pytest.approx(2.0 * (338.15 - settled[0][1]), rel=0.05)


def test_a_pipe_of_no_length_takes_nothing():
    pipe, gas, pressure = stack(SINGLE)
    run = run_of(replace(pipe, length=0.0, rise=0.0, surface=0.0), gas, pressure, 0.02, 320.0)
    assert run.outlet[0] == pytest.approx(320.0) and run.settled[0] == 0.0 and np.isfinite(run.wall[0])
