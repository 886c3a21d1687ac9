"""Water on the wall of one cell: against the balance found by bisection on a gas of the library, and by hand."""

import pytest

from ventcalc.flow import wall_condensation
from ventcalc.gas import atmosphere, flue_gas, streams
from ventcalc.vent import wetted_wall

PRESSURE = 101325.0  # Pa
FLUE = flue_gas.Gas(co2=0.09, h2o=0.16, n2=0.71, o2=0.04)


def settle(gas, kelvin, ring, film=12.0, radiation=0.0, resistance=0.01, wet=False, near=0.0):
    gas = streams.stream_properties(gas)
    transfer = wetted_wall.coefficient(gas, kelvin, PRESSURE, film)
    inside = wetted_wall.Inside(film + radiation, film, transfer)
    return wetted_wall.settle(gas, kelvin, PRESSURE, inside, ring, resistance, wet, near)


@pytest.mark.parametrize("kelvin, ring", [(420.0, 280.0), (340.0, 300.0), (420.0, 255.0)])
@pytest.mark.parametrize("resistance", [1e-4, 0.02, 0.2])
def test_the_surface_is_that_found_by_bisection(kelvin, ring, resistance):
    found = settle(FLUE, kelvin, ring, resistance=resistance)
    wall = wall_condensation.wall_temperature.bare(FLUE, kelvin, ring, PRESSURE, 12.0, resistance)
    assert found.wall == pytest.approx(wall, abs=0.3)  # properties there are those of the middle, here of the bulk
    dew = atmosphere.saturation_pressure.bare(found.wall) < 0.16 * PRESSURE
    assert (found.flux > 0.0) == dew
    if found.flux > 0.0:
        flux = wall_condensation.condensation_flux.bare(FLUE, kelvin, wall, PRESSURE, 12.0)
        assert found.flux == pytest.approx(flux, rel=0.04)


def test_what_reaches_the_wall_goes_on_into_its_first_ring():
    found = settle(FLUE, 400.0, 285.0, radiation=3.0)
    steam = streams.sensible(streams.STEAM, 400.0)
    heat = found.film * (400.0 - found.wall) + found.flux * (steam - found.liquid)
    assert heat == pytest.approx((found.wall - 285.0) / 0.01, rel=2e-3)


def test_a_wall_above_the_dew_point_is_dry():
    found = settle(FLUE, 420.0, 360.0, resistance=0.05)
    assert found.flux == 0.0 and found.film == 12.0
    assert found.wall == pytest.approx(360.0 + 60.0 * 12.0 * 0.05 / (1.0 + 12.0 * 0.05))


def test_a_film_on_a_warm_wall_dries_and_cools_it():
    dry, wet = settle(FLUE, 420.0, 360.0), settle(FLUE, 420.0, 360.0, wet=True)
    assert wet.flux < 0.0 and wet.wall < dry.wall
    wall = wall_condensation.wall_temperature.bare(FLUE, 420.0, 360.0, PRESSURE, 12.0, 0.01, wetted=True)
    assert wet.wall == pytest.approx(wall, abs=0.5)


@pytest.mark.parametrize("wet", [False, True])
@pytest.mark.parametrize("ring", [255.0, 272.9, 300.0])
def test_wherever_it_is_begun_the_surface_is_the_same(ring, wet):
    found = [settle(FLUE, 400.0, ring, wet=wet, near=near) for near in (0.0, 220.0, 273.0, 310.0, 360.0, 399.0)]
    assert [f.wall for f in found] == pytest.approx([found[0].wall] * len(found), abs=1e-3)
    assert [f.flux for f in found] == pytest.approx([found[0].flux] * len(found), rel=1e-4)
