"""Cooling: one section between its two ends."""

import numpy as np
import pytest
from independent_network import Film, Gas, Vent
from sample_plants import SEASONS, row_plant

from ventcalc.flow import friction, gas_radiation, heat_loss
from ventcalc.gas import flue_gas
from ventcalc.gas.combustion import products
from ventcalc.gas.fuels import fuel
from ventcalc.gas.streams import GAS_R
from ventcalc.vent.cooling import cool, film_power, inside_film, mean_temperature
from ventcalc.vent.network import compile_network


def test_a_dry_run_follows_the_exponential_of_its_own_film():
    # The same run worked from heat_loss, with the cooling number that the run reports.
    network = compile_network(row_plant(1), SEASONS)
    pipe, gas = network.pipes[0], network.gas[0][:, 0, -1]
    one = np.ones(1)
    run = cool(pipe, network.pressure, 0.2 * one, 430.0 * one, gas[:, None], 290.0 * one, one, None)
    assert run.outlet[0] == pytest.approx(heat_loss.outlet_temperature.bare(430.0, 290.0, run.cooling[0]), abs=1e-6)
    assert run.mean[0] == pytest.approx(heat_loss.mean_temperature.bare(430.0, 290.0, run.cooling[0]), abs=1e-6)


GRAVITY, OUTDOOR = 9.80665, 253.15
STEEL, DOUBLE, MASONRY = (
    "stainless special gas vent single wall", "stainless special gas vent double wall", "tile-lined masonry chimney",
)  # fmt: skip


def stack(bore, wall, length=20.0):
    plant = row_plant(1, vent=wall, stack_height=length, header_mm=1000 * bore, connector_mm=200.0, junction=None)
    return compile_network(plant, SEASONS), Vent(plant, SEASONS).pieces["stack"]


def one_run(network, kelvin, velocity, warm, around):
    pipe, gas, one = network.pipes[-1], network.gas[0][:, 0, -1], np.ones(1)
    flow = velocity * pipe.area * network.pressure / (gas[GAS_R] * kelvin)
    run = cool(pipe, network.pressure, flow * one, kelvin * one, gas[:, None], around * one, warm * one, None)
    return run, float(flow), Gas(gas)


def marched(piece, network, flow, kelvin, gas, cold, around, step=0.5):
    """Outlet and mean of 1/T by a scalar march along the stack, every half meter with the film of its own gas."""
    count, inverse = round(piece.length / step), 0.0

    def loss(t):  # U pi D / (m c), 1/m
        film = Film(piece, flow, t, gas, around, cold, network.pressure)
        return film.u * np.pi * piece.diameter / (flow * gas.heat(t))

    for _ in range(count):
        middle = around + (kelvin - around) * np.exp(-loss(kelvin) * step / 2)
        following = around + (kelvin - around) * np.exp(-loss(middle) * step)
        inverse += (1 / kelvin + 1 / following) / 2 / count
        kelvin = following
    return kelvin, inverse


@pytest.mark.parametrize(
    ("bore", "velocity", "celsius", "wall", "cold"),
    [
        (0.6, 1.0, 250.0, MASONRY, True),  # slow, wide and hot: radiation is half of the film at its foot
        (0.6, 1.0, 250.0, STEEL, False),
        (0.6, 3.0, 140.0, DOUBLE, False),
        (0.3, 1.0, 250.0, DOUBLE, False),
        (0.3, 3.0, 250.0, STEEL, False),
        (0.3, 8.0, 250.0, MASONRY, True),
        (0.3, 3.0, 140.0, DOUBLE, False),
        (0.15, 8.0, 250.0, STEEL, False),
    ],
)
def test_a_long_stack_against_a_march_with_local_films(bore, velocity, celsius, wall, cold):
    # 20 m in two pieces, in surroundings of 60 degC, above the dew point: no wall is wet. Found at worst: 0.2 K at the
    # outlet, 0.21 Pa or 0.2 % of the draft. In one: 1.3 Pa, 1.1 %.
    network, piece = stack(bore, wall)
    run, flow, gas = one_run(network, celsius + 273.15, velocity, 0.0 if cold else 1.0, 333.15)
    outlet, inverse = marched(piece, network, flow, celsius + 273.15, gas, cold, 333.15)
    assert run.settled[0] == run.fog[0] == 0.0
    assert run.outlet[0] == pytest.approx(outlet, abs=0.3)
    density = network.pressure * piece.thin_air / gas.r * inverse
    fall, expected = GRAVITY * 20.0 * (run.density[0] - density), network.outdoor_density[0] * piece.thin_air - density
    assert abs(fall) < 0.3
    assert abs(fall) < 0.003 * GRAVITY * 20.0 * expected


@pytest.mark.parametrize(("bore", "low", "high"), [(0.15, 0.03, 0.35), (0.3, 0.08, 0.50), (0.6, 0.13, 0.65)])
def test_share_of_radiation_in_the_inside_film(bore, low, high):
    # Left out, as it was, from 3 % to two thirds of the film were missing between 8 and 1 m/s, at 140 degC.
    network, _ = stack(bore, DOUBLE)
    pipe, gas, one = network.pipes[-1], network.gas[0][:, 0, -1:], np.ones(1)
    shares = []
    for velocity in (8.0, 1.0):
        size = velocity * pipe.area * network.pressure / (gas[GAS_R] * 413.15)
        film = inside_film(pipe, network.pressure, gas, 413.15 * one, OUTDOOR * one, one, size)
        shares.append(1.0 - float((film.convection / film.inside)[0]))
    assert low < shares[0] < shares[1] < high


def test_the_film_is_that_of_its_full_equations():
    # Convection and radiation from the public functions, the wall as warm as both make it.
    network, _ = stack(0.3, DOUBLE)
    pipe, properties, kelvin, velocity = network.pipes[-1], network.gas[0][:, 0, -1:], 420.0, 3.0
    gas = products.bare(fuel("natural gas"), 0.25, 0.0).gas
    size = velocity * pipe.area * network.pressure / (properties[GAS_R] * kelvin)
    one = np.ones(1)
    film = inside_film(pipe, network.pressure, properties, kelvin * one, OUTDOOR * one, one, size)
    viscosity, conductivity = flue_gas.transport.bare(gas, kelvin)
    reynolds = friction.reynolds.bare(float(size[0]), pipe.diameter, viscosity)
    nusselt = heat_loss.nusselt.bare(reynolds, flue_gas.prandtl.bare(gas, kelvin), pipe.relative_roughness)
    convection, wall = nusselt * conductivity / pipe.diameter, 350.0
    for _ in range(20):
        radiation = gas_radiation.radiation_film.bare(gas, kelvin, wall, pipe.diameter, network.pressure)
        share = 1.0 / (1.0 + (convection + radiation) * pipe.outside_resistance)
        wall = kelvin - share * (kelvin - OUTDOOR)
    assert film.convection[0] == pytest.approx(convection, rel=0.03)  # properties of a stream are fits
    assert film.inside[0] - film.convection[0] == pytest.approx(radiation, rel=0.06)
    assert kelvin - film.share[0] * (kelvin - OUTDOOR) == pytest.approx(wall, abs=3.0)


@pytest.mark.parametrize("velocity", [0.02, 0.2, 0.4, 1.0, 6.0])
def test_power_of_the_flow_in_the_film(velocity):
    # By a small step. In turbulence the power is taken as 0.8, for Newton's slopes only.
    network, _ = stack(0.2, DOUBLE)
    pipe, gas, one = network.pipes[-1], network.gas[0][:, 0, -1:], np.ones(1)
    size = velocity * pipe.area * network.pressure / (gas[GAS_R] * 400.0)
    films = [
        inside_film(pipe, network.pressure, gas, 400.0 * one, OUTDOOR * one, 0.0 * one, size * scale)
        for scale in (0.999, 1.0, 1.001)
    ]
    slope = np.log(films[2].inside / films[0].inside) / np.log(1.001 / 0.999)
    assert film_power(films[1]) == pytest.approx(slope, rel=0.12, abs=0.01)


def test_mean_temperature_is_that_of_the_exponential():
    for number in (0.01, 0.3, 1.0, 2.0):
        last = 290.0 + 140.0 * np.exp(-number)
        exact = heat_loss.mean_temperature.bare(430.0, 290.0, number)
        assert mean_temperature(430.0, last, 290.0) == pytest.approx(exact, abs=0.012 * number**2 * 14)
    assert mean_temperature(300.0, 300.0, 300.0) == 300.0
    # Gas that is warmed from 280 to 290 K in 300 K: the logarithmic mean.
    assert mean_temperature(280.0, 290.0, 300.0) == pytest.approx(300.0 - 10.0 / np.log(2.0), abs=0.02)
