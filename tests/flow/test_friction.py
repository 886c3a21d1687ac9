"""Friction: Colebrook's equation, the laminar law, an independent library, and the passage between."""

import numpy as np
import pytest
from fluids.friction import Colebrook
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from ventcalc import tables
from ventcalc.checked import compare, unexplained
from ventcalc.flow.friction import (
    LAMINAR_LIMIT,
    TURBULENT_LIMIT,
    friction_factor,
    pressure_loss,
    reynolds,
    smooth_friction_factor,
    velocity,
    velocity_head,
)
from ventcalc.units import Q_, OutOfRangeWarning

ROWS = {row["id"]: row for row in tables.read("losses_checks")}

# L055 (Re = 3000) asks Colebrook's equation where the flow is neither laminar nor turbulent; its remark says so.
COLEBROOK = [key for key in ROWS if 55 <= int(key[1:]) <= 65]


def factor(key):
    return friction_factor(float(ROWS[key]["reynolds"]), float(ROWS[key]["relative_roughness"] or 0.0))


CHECKS = {c.id: c for c in compare("losses_checks", {key: factor(key) for key in [*COLEBROOK, "L066"]})}


@pytest.mark.parametrize("key", [key for key in CHECKS if key != "L055"])
def test_published_value(key):
    assert CHECKS[key].agrees, CHECKS[key].verdict


def test_every_difference_is_explained():
    assert unexplained(CHECKS.values()) == []
    assert [key for key, check in CHECKS.items() if not check.agrees] == ["L055"]


def implicit(re, roughness):
    """Root of Colebrook's equation by bisection, nothing borrowed from the library."""

    def residual(x):
        return x + 2.0 * np.log10(roughness / 3.7 + 2.51 * x / re)

    return brentq(residual, 1.0, 30.0, xtol=1e-14, rtol=1e-14) ** -2


def test_colebrook_row_in_the_passage():
    # L055 is the equation's own root; here the blend lies between it and 64/Re.
    row = ROWS["L055"]
    root = implicit(float(row["reynolds"]), float(row["relative_roughness"]))
    assert root == pytest.approx(float(row["value"]), abs=5e-7)
    assert 64 / 3000 < CHECKS["L055"].ours < root


RANGE = [(re, eps) for re in np.geomspace(TURBULENT_LIMIT, 1e8, 25) for eps in (0.0, 1e-6, 1e-4, 1e-3, 0.01, 0.05)]


# The library's own start for a large Re overflows on its way to the root.
@pytest.mark.filterwarnings("ignore:overflow encountered:RuntimeWarning")
def test_one_step_meets_colebrook_within_a_millionth():
    found = friction_factor.bare(*np.array(RANGE).T)
    reference = [Colebrook(re, eps) for re, eps in RANGE]  # fluids, by Lambert's W function
    np.testing.assert_allclose(found, reference, rtol=1e-6)
    np.testing.assert_allclose(reference, [implicit(*point) for point in RANGE], rtol=1e-9)


def test_laminar_law():
    re = np.array([1.0, 10.0, 1000.0, LAMINAR_LIMIT])
    np.testing.assert_allclose(friction_factor.bare(re, 0.03), 64 / re, rtol=1e-12)
    # Hagen and Poiseuille: dp = 128 mu L m / (pi rho D^4), any textbook.
    mass_flow, density, diameter, length, viscosity = 1e-5, 0.9, 0.02, 3.0, 2.2e-5
    exact = 128 * viscosity * length * mass_flow / (np.pi * density * diameter**4)
    assert pressure_loss.bare(mass_flow, density, diameter, length, 1e-3, viscosity) == pytest.approx(exact, rel=1e-12)


@pytest.mark.parametrize("limit", [LAMINAR_LIMIT, TURBULENT_LIMIT])
@pytest.mark.parametrize("roughness", [0.0, 0.001, 0.05])
def test_neither_step_nor_kink_at_the_limits(limit, roughness):
    near, far = (friction_factor.bare(limit + np.array([-h, 0.0, h]), roughness) for h in (1e-4, 0.1))
    assert abs(near[2] - near[0]) < 1e-8
    # The rise over 0.1 from either side: about 1e-6, and the same within a tenth.
    assert far[2] - far[1] == pytest.approx(far[1] - far[0], abs=1e-7)


def test_loss_rises_through_the_passage():
    flow = np.linspace(0.0, 0.02, 4000)
    loss = pressure_loss.bare(flow, 0.9, 0.1, 10.0, 1e-4, 2.2e-5)
    assert loss[0] == 0.0 and np.all(np.diff(loss) > 0)


@given(st.floats(-5.0, 5.0), st.floats(0.05, 2.0), st.floats(0.0, 5.0))
def test_loss_follows_the_sign_of_the_flow(mass_flow, diameter, loss_coefficient):
    forward, backward = (
        pressure_loss.bare(m, 0.9, diameter, 10.0, 1e-3, 2.2e-5, loss_coefficient) for m in (mass_flow, -mass_flow)
    )
    assert forward == -backward and forward * mass_flow >= 0


@given(st.floats(4e3, 1e8), st.floats(0.0, 0.049))
def test_rougher_costs_more_and_faster_has_the_smaller_factor(re, roughness):
    assert friction_factor.bare(re, roughness + 0.001) > friction_factor.bare(re, roughness)
    assert friction_factor.bare(1.1 * re, roughness) <= friction_factor.bare(re, roughness)


def test_loss_coefficients_add_velocity_heads():
    case = (0.4, 0.9, 0.3, 10.0, 1e-3, 2.2e-5)
    head = velocity_head.bare(0.9, velocity.bare(0.4, 0.9, 0.3))
    assert pressure_loss.bare(*case, 2.5) - pressure_loss.bare(*case) == pytest.approx(2.5 * head)


# L050: Re = 8.56 D(in.) V(fpm) for standard air, 0.075 lb/ft3. Viscosity of air at 70 F: 0.0440 lb/(ft h), from memory.
def test_reynolds_of_standard_air():
    density, diameter = Q_(0.075, "lb/ft**3"), Q_(1, "inch")
    flow = density * Q_(1, "fpm") * np.pi / 4 * diameter**2
    found = reynolds(flow.to("kg/s"), diameter, Q_(0.0440, "lb/(ft*hour)"))
    assert found.m_as("") == pytest.approx(float(ROWS["L050"]["value"]), rel=0.01)


# L013: the handbook's pipe factor k = 0.4 L(ft) / D(in.) is Darcy's f of 0.4/12 = 0.033 (from memory). A vent of 8 in.
# at 10 to 20 ft/s with a roughness of 1 mm has 0.032 to 0.034: the same within 5 %.
def test_pipe_factor_of_the_chimney_handbook():
    factor = friction_factor.bare(np.array([2.0e4, 4.5e4]), 1.0 / 203.2)
    np.testing.assert_allclose(factor, float(ROWS["L013"]["value"]) / 12.0, rtol=0.05)


US_AND_SI = [
    (reynolds, (Q_(500, "lb/hour"), Q_(8, "inch"), Q_(0.055, "lb/(ft*hour)")), ("kg/s", "mm", "Pa*s")),
    (friction_factor, (Q_(5e4, ""), Q_(0.5, "percent")), ("", "")),
    (velocity_head, (Q_(0.05, "lb/ft**3"), Q_(900, "fpm")), ("kg/m**3", "m/s")),
    (velocity, (Q_(500, "lb/hour"), Q_(0.05, "lb/ft**3"), Q_(8, "inch")), ("kg/s", "kg/m**3", "m")),
    (
        pressure_loss,
        (
            Q_(500, "lb/hour"),
            Q_(0.05, "lb/ft**3"),
            Q_(8, "inch"),
            Q_(30, "ft"),
            Q_(0.003, "ft"),
            Q_(0.055, "lb/(ft*hour)"),
            Q_(2.0, ""),
        ),
        ("kg/s", "kg/m**3", "m", "m", "mm", "Pa*s", ""),
    ),
]


@pytest.mark.parametrize(("function", "us", "si"), US_AND_SI, ids=lambda x: getattr(x, "__name__", None))
def test_same_case_in_us_and_si_units(function, us, si):
    first, second = function(*us), function(*(a.to(unit) for a, unit in zip(us, si, strict=True)))
    assert (first / second).m_as("") == pytest.approx(1.0, rel=1e-12)


WRONG = [
    (reynolds, (Q_(1, "kg/s"), Q_(0, "m"), Q_(2e-5, "Pa*s")), "diameter"),
    (reynolds, (Q_(1, "kg/s"), Q_(1, "m"), Q_(0, "Pa*s")), "viscosity"),
    (friction_factor, (-1.0, 0.0), "reynolds"),
    (friction_factor, (1e5, -0.1), "relative_roughness"),
    (velocity_head, (Q_(0, "kg/m**3"), Q_(1, "m/s")), "density"),
    (velocity, (Q_(1, "kg/s"), Q_(1, "kg/m**3"), Q_(-1, "m")), "diameter"),
    (
        pressure_loss,
        (Q_(1, "kg/s"), Q_(1, "kg/m**3"), Q_(1, "m"), Q_(-1, "m"), Q_(-1, "mm"), Q_(2e-5, "Pa*s")),
        "length = -1 m .*roughness",
    ),
]


@pytest.mark.parametrize(("function", "arguments", "named"), WRONG)
def test_impossible_input_is_refused_by_name(function, arguments, named):
    with pytest.raises(ValueError, match=named):
        function(*arguments)


def test_roughness_outside_the_published_range_warns():
    friction_factor(1e5, 0.05)
    with pytest.warns(OutOfRangeWarning, match="relative_roughness"):
        friction_factor(1e5, 0.051)


@pytest.mark.parametrize(("re", "printed"), [(1e4, 0.0309), (1e5, 0.0180), (1e6, 0.0116)])
def test_smooth_pipe_by_konakov(re, printed):
    # Moody's chart, smooth pipe (from memory); and Colebrook at no roughness.
    assert smooth_friction_factor.bare(re) == pytest.approx(printed, rel=0.015)
    assert smooth_friction_factor.bare(re) == pytest.approx(friction_factor.bare(re, 0.0), rel=0.012)


# --- A textbook's table and example: Colebrook again, by other hands ---


@pytest.mark.parametrize(
    "row", [r for r in tables.read("film_checks") if r["quantity"].startswith("Darcy")], ids=lambda r: r["id"]
)
def test_factor_of_a_heat_transfer_textbook(row):
    # Its figure's caption for Re 1e6 (3 %: read off curves; the smooth pipe is 2 % off), and an example (1 %).
    ours = friction_factor(float(row["reynolds"]), float(row["relative_roughness"]))
    assert ours.m == pytest.approx(float(row["value"]), rel=float(row["tolerance_suggested"].rstrip("%")) / 100.0)
