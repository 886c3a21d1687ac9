"""Warm-up: lumped and plane walls of the textbooks, a fine integration, balances."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sample_walls import BRICK, CASE, STEEL, WALLS, layer
from scipy.integrate import simpson
from scipy.optimize import brentq

from ventcalc.flow.heat_loss import (
    cooling_number,
    heat_transfer_coefficient,
    outlet_temperature,
)
from ventcalc.flow.materials import layers
from ventcalc.flow.wall_rings import rings
from ventcalc.flow.warm_up import warm_up
from ventcalc.units import Q_

W_M2K = "W/(m**2*K)"


def test_thin_wall_is_a_lumped_capacitance():
    # Any heat transfer textbook: T = Ts + (T0 - Ts) exp(-t/tau), tau = C / (hi + ho); so much gas that it stays hot.
    found = warm_up.bare(400.0, layers=(STEEL,), **CASE | {"mass_flow": 1e6, "length": 1.0})
    inside, outside = 15.0 * 0.2, 23.0 * 0.201  # W/(m K), over pi
    held = 7900.0 * 460.0 * 0.25 * (0.201**2 - 0.2**2)
    tau = held / (inside + outside)
    settled = (inside * 450.0 + outside * 270.0) / (inside + outside)
    expected = settled + (280.0 - settled) * np.exp(-found.time / tau)
    # `wall` is the inner surface, half a sheet from the middle that the formula speaks of: 15 x 170 W/m2 through it.
    half_sheet = 15.0 * 170.0 * 0.00025 / 17.0
    np.testing.assert_allclose(found.wall[1:, 0], expected[1:], atol=half_sheet)
    assert np.all(found.wall[1:, 0] > expected[1:])


def test_thick_wall_is_the_plane_wall_of_the_textbooks():
    # A wall heated on one side and insulated on the other: theta = sum of Cn exp(-zn^2 Fo), zn tan zn = Bi; mean
    # over the wall with sin(zn)/zn (Heisler). A bore of 40 m makes the cylinder plane within 0.3 %.
    film, thickness, diffusivity = 15.0, 0.100, 0.72 / (1920.0 * 835.0)
    biot = film * thickness / 0.72
    ends = [(n * np.pi + 1e-9, n * np.pi + np.pi / 2 - 1e-9) for n in range(30)]
    roots = [brentq(lambda z: z * np.tan(z) - biot, *between) for between in ends]
    weights = [4 * np.sin(z) / (2 * z + np.sin(2 * z)) for z in roots]
    case = CASE | {"mass_flow": 1e6, "length": 1.0, "diameter": 40.0, "outside_film": 1e-9, "inside_film": film}
    found = warm_up.bare(6 * 3600.0, layers=(BRICK,), **case)
    fourier = diffusivity * found.time / thickness**2
    terms = [(z, c * np.exp(-z * z * fourier)) for c, z in zip(weights, roots, strict=True)]
    mean = sum(term * np.sin(z) / z for z, term in terms)
    surface = sum(term * np.cos(z) for z, term in terms)  # z tan z = Bi counts from the insulated side
    held = 1920.0 * 835.0 * np.pi * 40.0 * thickness
    later = found.time > 600.0  # before that the heat has not yet left the first ring of 15 mm
    np.testing.assert_allclose((found.stored / (held * 170.0))[later], 1.0 - mean[later], atol=0.005)
    np.testing.assert_allclose(((450.0 - found.wall[:, 0]) / 170.0)[later], surface[later], atol=0.01)


@pytest.mark.parametrize("name", WALLS)
def test_it_settles_at_the_steady_outlet(name):
    wall = rings(0.2, layers(name))
    u = heat_transfer_coefficient.bare(15.0, wall.resistance.sum() * np.pi * 0.2, 23.0, wall.outer_diameter / 0.2)
    expected = outlet_temperature.bare(450.0, 270.0, cooling_number.bare(u, 0.2, 12.0, 0.1, 1080.0))
    long_after = [warm_up.bare(1e7, layers=layers(name), slices=n, steps=2, **CASE).gas[-1, -1] for n in (6, 12, 24)]
    errors = np.abs(np.array(long_after) - expected)
    assert errors[1] < 0.0005 * 180.0
    np.testing.assert_allclose(errors[:-1] / errors[1:], 4.0, rtol=0.05)  # second order in the slices


@pytest.mark.parametrize(("name", "duration"), list(zip(WALLS, (600.0, 3600.0, 28800.0), strict=True)))
def test_energy_closes(name, duration):
    # What the gas gives, by Simpson's rule over its own temperatures, against what the wall holds and the air took.
    found = warm_up.bare(duration, layers=layers(name), steps=400, **CASE)
    given = simpson(0.1 * 1080.0 * (found.gas[:, 0] - found.gas[:, -1]), x=found.time)
    assert found.stored[-1] + found.lost[-1] == pytest.approx(given, rel=1e-4)


def fine(parts, duration, cells=200, ring=0.002):
    """Time and gas at the end by a fine grid: gas stationary and upwind, rings of 2 mm, explicit steps of Euler."""
    inner, outer, conductivity, heat, radius = [], [], [], [], 0.1
    for part in parts:
        thickness = part.thickness.m_as("m")
        edges = radius + np.linspace(0.0, thickness, max(round(thickness / ring), 1) + 1)
        inner, outer, radius = [*inner, *edges[:-1]], [*outer, *edges[1:]], radius + thickness
        conductivity += [part.conductivity.m_as("W/(m*K)")] * (len(edges) - 1)
        heat += [(part.density * part.specific_heat).m_as("J/(m**3*K)")] * (len(edges) - 1)
    inner, outer, conductivity, heat = map(np.array, (inner, outer, conductivity, heat))
    middle, dx = 0.5 * (inner + outer), 12.0 / cells
    half_in, half_out = np.log(middle / inner) / conductivity, np.log(outer / middle) / conductivity
    first, last = 1 / (1 / (15.0 * 0.1) + half_in[0]), 1 / (half_out[-1] + 1 / (23.0 * outer[-1]))
    through = 2 * np.pi * dx * np.array([first, *(1 / (half_out[:-1] + half_in[1:])), last])
    capacity, stream = heat * np.pi * (outer**2 - inner**2) * dx, 0.1 * 1080.0
    step = min(0.4 * (capacity / (through[:-1] + through[1:])).min(), duration / 1500)
    wall, found = np.full((cells, len(inner)), 280.0), []
    for _ in range(int(np.ceil(duration / step))):
        gas = np.empty(cells + 1)
        gas[0] = 450.0
        for j in range(cells):  # stream (g - g+) = through (g+ - wall)
            gas[j + 1] = (stream * gas[j] + through[0] * wall[j, 0]) / (stream + through[0])
        surroundings = np.full((cells, 1), 270.0)
        flow = through * -np.diff(np.hstack([gas[1:, None], wall, surroundings]), axis=1)
        wall += step * -np.diff(flow, axis=1) / capacity
        found.append(gas[-1])
    return step * np.arange(len(found)), np.array(found)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("parts", "duration"), [((STEEL,), 300.0), ((layer(0.016, 1.0, 2000.0, 840.0), BRICK), 7200.0)]
)
def test_against_a_fine_explicit_integration(parts, duration):
    found = warm_up.bare(duration, layers=parts, **CASE)
    time, outlet = fine(parts, duration)
    later = found.time > 0.02 * duration
    # 0.5 K of 180 K: the fine grid's own upwind cells cost 0.2 K, our rings of 15 mm the rest.
    np.testing.assert_allclose(found.gas[later, -1], np.interp(found.time[later], time, outlet), atol=0.5)


def test_steps_of_time_are_exact():
    many, few = (warm_up.bare(3600.0, layers=layers(WALLS[2]), steps=n, **CASE) for n in (120, 4))
    np.testing.assert_allclose(many.gas[::30], few.gas, rtol=1e-10)
    np.testing.assert_allclose(many.lost[::30], few.lost, rtol=1e-8, atol=1e-3)


@given(st.floats(300.0, 800.0), st.floats(240.0, 310.0), st.floats(240.0, 310.0), st.floats(0.02, 2.0))
def test_warming_stays_between_its_temperatures(inlet, surroundings, start, flow):
    case = CASE | {"inlet": inlet, "surroundings": surroundings, "start": start, "mass_flow": flow}
    found = warm_up.bare(1800.0, layers=layers(WALLS[1]), slices=4, steps=20, **case)
    low, high = min(inlet, surroundings, start), max(inlet, surroundings, start)
    for field in (found.gas, found.wall):
        assert low - 1e-6 <= field.min() and field.max() <= high + 1e-6
    if start <= min(inlet, surroundings):
        assert np.all(np.diff(found.gas[:, -1]) > -1e-9)


def test_purge_air_is_warmed_by_a_hot_stack():
    found = warm_up.bare(86400.0, layers=layers(WALLS[2]), **CASE | {"inlet": 290.0, "start": 420.0})
    assert found.gas[0, -1] > 320.0 > found.gas[-1, -1] > 280.0
    assert found.stored[-1] < 0.0


WARM_UP_UNITS = {"inlet": "K", "surroundings": "K", "start": "K", "diameter": "m", "length": "m", "mass_flow": "kg/s",
                 "specific_heat": "J/(kg*K)", "inside_film": W_M2K, "outside_film": W_M2K, "duration": "s"}  # fmt: skip


def test_warm_up_in_us_and_si_units():
    us = {
        "duration": Q_(0.5, "hour"),
        "inlet": Q_(350, "degF"),
        "surroundings": Q_(20, "degF"),
        "start": Q_(40, "degF"),
        "mass_flow": Q_(800, "lb/hour"),
        "specific_heat": Q_(0.26, "Btu/(lb*delta_degF)"),
        "inside_film": Q_(2.6, "Btu/(hour*ft**2*delta_degF)"),
        "outside_film": Q_(4.0, "Btu/(hour*ft**2*delta_degF)"),
        "diameter": Q_(8, "inch"),
        "length": Q_(40, "ft"),
    }
    si = {name: value.to(WARM_UP_UNITS[name]) for name, value in us.items()}
    a, b = (warm_up(**given, layers=layers(WALLS[1]), steps=10) for given in (us, si))
    np.testing.assert_allclose(a.gas, b.gas, rtol=1e-9)
    np.testing.assert_allclose(a.wall, b.wall, rtol=1e-9)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"layers": ()}, "a wall needs at least one layer"),
        ({"layers": (layer(0.0, 1.0, 1.0, 1.0),)}, "thickness of the layer test wall = 0 must be above 0"),
        ({"layers": (layer(0.1, -1.0, 1.0, 1.0),)}, "conductivity of the layer test wall = -1 must be above 0"),
        ({"mass_flow": Q_(0.0, "kg/s")}, "mass_flow = 0 kg/s must be above"),
        ({"duration": Q_(-1.0, "s")}, "duration = -1 s must be above"),
    ],
)
def test_impossible_warm_up_is_refused(changes, words):
    case = {name: Q_(value, WARM_UP_UNITS[name]) for name, value in CASE.items()}
    with pytest.raises(ValueError, match=words):
        warm_up(**case | {"duration": Q_(60.0, "s"), "layers": (STEEL,)} | changes)
