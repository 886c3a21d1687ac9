"""Gas radiation: Leckner's equations against other published forms, readings of Hottel's charts and measured air."""

import numpy as np
import pytest
from numpy.polynomial import chebyshev

from ventcalc import tables
from ventcalc.flow import gas_radiation
from ventcalc.flow.gas_radiation import absorptivity, black_film, emissivity, grey, mean_beam_length, radiation_film
from ventcalc.gas import combustion
from ventcalc.gas.flue_gas import Gas
from ventcalc.gas.fuels import fuel
from ventcalc.handbook.heat_loss_checks import radiation_checks
from ventcalc.units import Q_, OutOfRangeWarning

ATM = 101325.0
NATURAL_GAS = combustion.products.bare(fuel("natural gas"), 0.25).gas
DILUTED = combustion.products.bare(fuel("natural gas"), 3.0).gas
OIL = combustion.products.bare(fuel("no. 2 oil"), 0.3).gas
AIR = Gas.humid_air(0.01)
GASES = {"natural gas": NATURAL_GAS, "diluted": DILUTED, "oil": OIL, "air": AIR}


def one(species, share=1e-6):
    """A trace of one gas in nitrogen: the charts are drawn for a partial pressure of nil."""
    return Gas(**({"co2": 0.0, "h2o": 0.0, "n2": 1.0 - share, "o2": 0.0} | {species: share}))


def trace(species, kelvin, atm_m):
    """Emissivity of a trace over a path that holds this much of it [atm m]."""
    return float(emissivity.bare(one(species), kelvin, atm_m / 1e-6, ATM))


# --- Readings of Hottel's charts, and absorptivity by Hottel's scaling ---


@pytest.mark.parametrize("row", tables.read("gas_radiation_checks"), ids=lambda row: row["id"])
def test_published_value(row):
    paths = {s: float(row[f"{s}_atm_m"] or 0.0) for s in ("co2", "h2o")}
    ours = sum(trace(s, float(row["temperature_K"]), path) for s, path in paths.items() if path)
    assert ours == pytest.approx(float(row["value"]), rel=float(row["tolerance_suggested"].rstrip("%")) / 100.0)


@pytest.mark.parametrize(
    "row",
    [
        r
        for r in tables.read("gas_radiation_charts_checks")
        if r["quantity"].startswith("total emissivity, partial pressure")
    ],
    ids=lambda row: row["id"],
)
def test_charts_as_a_public_fire_model_reads_them(row):
    # Nodes of Hottel's charts, 400 to 1000 K, 0.004 to 1 atm m. The tolerances are the spread found between these
    # nodes and Leckner's equations (water -13 to +12 %, carbon dioxide -16 to +3 %): they say how far the two agree.
    ours = trace(row["gas"].lower(), float(row["temperature_K"]), float(row["pL_atm_m"]))
    assert ours == pytest.approx(float(row["value"]), rel=float(row["tolerance_suggested"].rstrip("%")) / 100.0)


# --- Other published forms ---


def smith(kelvin, path):
    """Smith, Shen and Friedman (1982): weighted sum of grey gases, water to carbon dioxide 2 to 1, 600 to 2400 K.

    path [atm m] of both gases. Coefficients read in a public code.
    """
    absorption = np.array([0.4201, 6.516, 131.9])
    weights = np.array(
        [
            [6.508e-1, -0.2504e-1, 2.718e-1],
            [-5.551e-4, 6.112e-4, -3.118e-4],
            [3.029e-7, -3.882e-7, 1.221e-7],
            [-5.353e-11, 6.528e-11, -1.612e-11],
        ]
    )
    return kelvin ** np.arange(4) @ weights @ (1.0 - np.exp(-absorption * path))


# Modak (1979), Fire Research 1: 300 to 2000 K, up to 6 atm m; Chebyshev coefficients read in a public code. Axes: ln of
# the partial pressure, ln of the path, temperature.
_MODAK = {
    "co2": """-2.754568 -0.2997857 -0.1232494 0.01279287 1.503051 0.3156449 0.01058126 -0.03729625
        -0.247411 -0.03323846 -0.01819471 0.02289789 0.04994029 -0.001986786 0.003007898 -0.001175598
        0.005737722 -0.009328458 0.002906286 0.000422752 -0.003151784 0.005632821 -0.003260295 0.0007065884
        0.0001668751 -0.0007326533 0.0003639855 0.0003228318 0.0007386638 -0.0007277073 0.0005925968 -0.0002021413
        0.003385611 -0.005439185 0.00176456 0.0003036031 -0.0018627 0.003236275 -0.00195225 0.0003474022
        0.0001204807 -0.0004479927 0.0002497521 0.0001812996 0.0004218169 -0.0004046608 0.0003256861 -9.514981e-05""",
    "h2o": """-2.594279 -0.7118472 -0.0009956839 0.0122656 2.510331 0.6481808 -0.03330587 -0.005524345
        -0.4191636 -0.137518 0.0387793 0.0008862328 -0.0322912 -0.01820241 -0.02223133 -0.0005940781
        0.1126869 -0.08133829 0.0151494 0.00139398 -0.009298805 0.0455066 -0.02082008 0.002013361
        -0.04375032 0.01924597 0.008859877 -0.004618414 0.007077876 -0.02096188 0.001458262 0.003851421
        0.05341517 -0.03407693 0.004354611 0.001492038 -0.004708178 0.02086896 -0.009477533 0.0006153272
        -0.02104622 0.007515796 0.005965509 -0.002756144 0.004318975 -0.01005744 0.0004091084 0.002550435""",
}
_MODAK = {s: np.array(text.split(), float).reshape(3, 4, 4) for s, text in _MODAK.items()}


def modak(kelvin, co2, h2o, length):
    """Emissivity of partial pressures [atm] over a length [m]; the overlap is left out (up to 0.01 here)."""
    return sum(
        np.exp(
            chebyshev.chebval3d(
                np.log(p) / 3.45 + 1.0, (np.log(p * length) + 2.555) / 4.345, (kelvin - 1150.0) / 850.0, _MODAK[s]
            )
        )
        for s, p in (("co2", co2), ("h2o", h2o))
    )


@pytest.mark.parametrize("kelvin", [600.0, 700.0, 800.0, 900.0])
@pytest.mark.parametrize("bore", [0.3, 0.6, 1.5])
def test_against_smiths_grey_gases(kelvin, bore):
    # Where both hold, 600 to 900 K: Smith is up to 8 % above, and 9 % in the widest, which is the spread between them.
    # (Below 0.1 m his thinnest grey gas of 132 per atm m is too strong: 35 % above Leckner's at 0.072 m and 600 K.)
    length = mean_beam_length.bare(bore)
    both = NATURAL_GAS.co2 + NATURAL_GAS.h2o
    assert NATURAL_GAS.h2o / NATURAL_GAS.co2 == pytest.approx(2.0, abs=0.12)
    ours = emissivity.bare(NATURAL_GAS, kelvin, length, ATM)
    assert ours == pytest.approx(smith(kelvin, both * length), rel=0.09)


@pytest.mark.parametrize("kelvin", [300.0, 400.0, 500.0, 600.0, 800.0])
@pytest.mark.parametrize("bore", [0.08, 0.15, 0.3, 0.6])
@pytest.mark.parametrize("name", ["natural gas", "diluted", "oil"])
def test_against_modak_down_to_300_kelvin(name, bore, kelvin):
    # Modak's is the published form that goes on to 300 K, where Leckner's ends at 400: they stay within 15 %.
    gas, length = GASES[name], mean_beam_length.bare(bore)
    ours = emissivity.bare(gas, kelvin, length, ATM)
    assert ours == pytest.approx(modak(kelvin, gas.co2, gas.h2o, length), rel=0.15)


# --- Air at room temperature, as meteorologists measure it ---

# Flux emissivity of slabs of air near 20 degC; a slab equals a beam of 1.66 times its thickness (their own factor).
# Formulas read in a public weather model.


def slab_of_vapor(atm_m):
    """Slab [g/cm2] that equals a beam holding this much water vapor."""
    return atm_m * ATM / (8.314462618 * 296.0) * 0.018015 * 0.1 / 1.66


def slab_of_co2(atm_m):
    """Slab [cm at 0 degC and 1 atm] that equals a beam holding this much carbon dioxide."""
    return atm_m * 100.0 * 273.15 / 296.0 / 1.66


@pytest.mark.parametrize(("atm_m", "ratio"), [(0.01, 0.71), (0.03, 0.82), (0.1, 0.93), (0.3, 1.02)])
def test_water_vapor_of_the_atmosphere(atm_m, ratio):
    # Staley and Jurica (1970) at 20 degC. Leckner's polynomials, 100 K below their range, are 29 % low in a narrow
    # connector and right in a wide stack.
    log = np.log10(slab_of_vapor(atm_m))
    measured = 0.61746 + 0.21334 * log + 0.018539 * log * log
    assert trace("h2o", 296.0, atm_m) / measured == pytest.approx(ratio, abs=0.01)


@pytest.mark.parametrize(("atm_m", "ratio"), [(0.01, 0.72), (0.03, 0.78), (0.1, 0.81), (0.3, 0.81)])
def test_carbon_dioxide_of_the_atmosphere(atm_m, ratio):
    # Kondratyev (1969): Leckner's are a fifth low here.
    measured = 0.185 * (1.0 - np.exp(-0.3919 * slab_of_co2(atm_m) ** 0.4))
    assert trace("co2", 296.0, atm_m) / measured == pytest.approx(ratio, abs=0.01)


# --- The exchange with the wall ---


def test_film_is_the_exchange_of_its_own_emissivity():
    gas, wall, bore = Q_(500.0, "K"), Q_(420.0, "K"), Q_(0.5, "m")
    length, pressure = mean_beam_length(bore), Q_(1.0, "atm")
    sigma = Q_(5.670374419e-8, "W/(m**2*K**4)")
    out = emissivity(NATURAL_GAS, gas, length, pressure) * gas**4
    back = absorptivity(NATURAL_GAS, gas, wall, length, pressure) * wall**4
    expected = (0.8 + 1) / 2 * sigma * (out - back) / (gas - wall)
    found = radiation_film(NATURAL_GAS, gas, wall, bore, pressure, 0.8)
    assert found.m_as("W/(m**2*K)") == pytest.approx(expected.m_as("W/(m**2*K)"))
    assert 2.0 < found.m_as("W/(m**2*K)") < 6.0


def test_gas_and_wall_alike_exchange_nothing_and_the_film_stays_finite():
    assert absorptivity.bare(NATURAL_GAS, 450.0, 450.0, 0.3, ATM) == emissivity.bare(NATURAL_GAS, 450.0, 0.3, ATM)
    walls = np.array([449.0, 449.9, 450.0, 450.1, 451.0])
    films = radiation_film.bare(NATURAL_GAS, 450.0, walls, 0.3, ATM)
    assert np.ptp(films) < 0.02 * films.mean()


def test_nitrogen_radiates_nothing_and_more_gas_more():
    assert emissivity.bare(Gas(0.0, 0.0, 1.0, 0.0), 500.0, 1.0, ATM) == pytest.approx(0.0, abs=1e-12)
    bores = np.geomspace(0.05, 3.0, 30)
    for gas in GASES.values():
        assert np.all(np.diff(radiation_film.bare(gas, 450.0, 380.0, bores, ATM)) > 0.0)
    assert (
        emissivity.bare(NATURAL_GAS, 450.0, 0.5, ATM)
        > emissivity.bare(DILUTED, 450.0, 0.5, ATM)
        > emissivity.bare(AIR, 450.0, 0.5, ATM)
    )


def test_grey_wall():
    assert grey(1.0) == 1.0 and grey(0.8) == pytest.approx(0.9)


# --- The fit for the solvers ---


@pytest.mark.parametrize("name", GASES)
@pytest.mark.parametrize("pressure", [101325.0, 80000.0])
def test_fit_against_the_full_equations(name, pressure):
    # Gas of 280 to 900 K, walls up to 250 K colder, bores of 80 mm to 1.5 m. Found: 4 % off at the root of the mean
    # square, 13 % at worst (1.5 m, gas and wall both at 280 K); up to 520 K never more than 0.65 W/(m2 K).
    gas, bore = GASES[name], np.geomspace(0.08, 1.5, 15)[:, None, None]
    hot, wall = np.linspace(280.0, 900.0, 32)[:, None], np.linspace(260.0, 900.0, 33)
    full = radiation_film.bare(gas, hot, wall, bore, pressure, 1.0)
    fast = black_film(gas.h2o * pressure, gas.co2 * pressure, 0.5 * (hot + wall), bore)
    met = (wall <= hot) & (hot - wall < 250.0) & np.ones_like(full, bool)
    off = (fast / full - 1.0)[met]
    assert np.sqrt(np.mean(off**2)) < 0.04 and np.abs(off).max() < 0.13
    assert np.abs(fast - full)[met & (hot <= 520.0)].max() < 0.65


def test_fit_of_dry_air_and_of_nothing():
    assert 0.0 < black_film(0.0, 0.0004 * ATM, 300.0, 0.3) < 0.3
    assert 0.0 < black_film(0.0, 0.0, 300.0, 0.3) < 0.05


# --- Units, ranges ---


def test_us_and_si_units():
    us = radiation_film(NATURAL_GAS, Q_(400, "degF"), Q_(280, "degF"), Q_(24, "inch"), Q_(29.92, "inHg"))
    si = radiation_film.bare(NATURAL_GAS, 477.594, 410.928, 0.6096, 101321.0)
    assert us.m_as("W/(m**2*K)") == pytest.approx(si, rel=1e-4)
    assert mean_beam_length(Q_(10, "inch")).m_as("inch") == pytest.approx(9.5)


def test_outside_leckners_range_warns_and_the_impossible_is_refused():
    with pytest.warns(OutOfRangeWarning, match="temperature"):
        emissivity(NATURAL_GAS, Q_(350, "K"), Q_(0.3, "m"), Q_(1, "atm"))
    with pytest.raises(ValueError, match="length"):
        emissivity(NATURAL_GAS, Q_(450, "K"), Q_(0, "m"), Q_(1, "atm"))
    with pytest.raises(ValueError, match="wall_emissivity"):
        radiation_film(NATURAL_GAS, Q_(450, "K"), Q_(400, "K"), Q_(0.3, "m"), Q_(1, "atm"), 1.2)


def test_constants():
    assert gas_radiation.BEAM_LENGTH == 0.95 and gas_radiation.WALL_EMISSIVITY == 0.8


# --- The other rows of data/flow/gas_radiation_charts_checks.csv: coefficients, another restatement, a worked
# example ---

CHARTS = {r["id"]: r for r in tables.read("gas_radiation_charts_checks")}
LECKNER = [k for k, r in CHARTS.items() if r["quantity"].startswith("Leckner coefficient")]
SMITH = [k for k, r in CHARTS.items() if r["quantity"].startswith(("gray gas", "weight coefficient"))]


@pytest.mark.parametrize("key", LECKNER)
def test_leckners_coefficients_in_another_restatement(key):
    row = CHARTS[key]
    table = {"H2O": gas_radiation._H2O, "CO2": gas_radiation._CO2}[row["gas"]]
    assert table[int(row["i"]), int(row["j"])] == float(row["value"])


def restated_factor(gas, kelvin, pressure, partial, path):
    """Leckner's factor for pressure, from the rows; pressures in bar, path in bar cm."""
    t = kelvin / 1000.0
    value = {k: float(CHARTS[k]["value"]) for k in ("GR134", "GR135", "GR136", "GR137", "GR138", "GR139", "GR140",
                                                    "GR141", "GR142", "GR143", "GR144", "GR145")}  # fmt: skip
    if gas == "h2o":
        effective, best = pressure + value["GR134"] * partial / t**0.5, value["GR136"] * t * t
        a = value["GR139"] if t < 0.75 else value["GR140"] - 2.053 * np.log10(t)
        b, c = value["GR141"] / t**1.4, value["GR142"]
    else:
        effective = pressure + value["GR135"] * partial
        best = value["GR137"] / (t * t) if t < 0.7 else value["GR138"] * t * t
        a, b, c = 1.0 + value["GR143"] / t**1.45, value["GR144"], value["GR145"]
    fall = (a - 1.0) * (1.0 - effective) / (a + b - 1.0 + effective)
    return 1.0 - fall * np.exp(-c * np.log10(best / path) ** 2)


@pytest.mark.parametrize("kelvin", [450.0, 720.0, 760.0, 1300.0])
@pytest.mark.parametrize("species", ["h2o", "co2"])
def test_leckners_pressure_correction_in_another_restatement(species, kelvin):
    share, length, pressure = 0.15, 0.4, 0.8e5
    gas = one(species, share)
    factor = restated_factor(species, kelvin, 0.8, share * 0.8, share * 0.8 * 40.0)
    coefficients = {"h2o": gas_radiation._H2O, "co2": gas_radiation._CO2}[species]
    alone = gas_radiation._one(coefficients, kelvin, share * pressure * length)
    # His overlap is not quite nil for water alone: 1/111.7 - 0.0089 = 5e-5.
    overlap = gas_radiation._overlap(gas.h2o * pressure, gas.co2 * pressure, length)
    assert emissivity.bare(gas, kelvin, length, pressure) == pytest.approx(alone * factor - overlap, rel=1e-12)
    assert overlap < 1e-4


def test_leckners_overlap_in_another_restatement():
    share, path = 0.4, 50.0  # of water in both, bar cm
    by_hand = (share / (float(CHARTS["GR146"]["value"]) + 101.0 * share) - 0.0089 * share**10.4) * np.log10(
        path
    ) ** 2.76
    assert gas_radiation._overlap(0.4e5, 0.6e5, 0.5) == pytest.approx(by_hand, rel=1e-12)


def grey_gases(ratio):
    """Absorption [1/(atm m)] and weights of the three grey gases of one ratio of water to carbon dioxide."""
    rows = [CHARTS[k] for k in SMITH if CHARTS[k]["gas"] == f"pw/pc = {ratio}"]
    absorption, weights = np.zeros(3), np.zeros((4, 3))
    for row in rows:
        if row["j"]:
            weights[int(row["j"]) - 1, int(row["i"]) - 1] = float(row["value"])
        else:
            absorption[int(row["i"]) - 1] = float(row["value"])
    assert len(rows) == 15
    return absorption, weights


@pytest.mark.parametrize("kelvin", [600.0, 750.0, 900.0])
@pytest.mark.parametrize("bore", [0.3, 0.6, 1.5])
@pytest.mark.parametrize(("name", "ratio"), [("natural gas", 2), ("oil", 1)])
def test_against_smiths_grey_gases_from_the_table(name, ratio, bore, kelvin):
    # The tests above typed those of ratio 2; here both ratios come from the table, and 2 is the same. Oil's gas holds
    # 0.9 of water to 1 of carbon dioxide: Smith's at 1 to 1 are up to 9 % off as well.
    gas, length = GASES[name], mean_beam_length.bare(bore)
    assert gas.h2o / gas.co2 == pytest.approx(ratio, rel=0.12)
    absorption, weights = grey_gases(ratio)
    path = (gas.co2 + gas.h2o) * length
    expected = kelvin ** np.arange(4) @ weights @ (1.0 - np.exp(-absorption * path))
    if ratio == 2:
        assert expected == pytest.approx(smith(kelvin, path), rel=1e-12)
    assert emissivity.bare(gas, kelvin, length, ATM) == pytest.approx(expected, rel=0.09)


def test_every_row_is_used():
    # GR178 to GR191: a worked example, compared by the chapter and held to its tolerances by its test. GR147 is the
    # accuracy that the abstract claims; GR193 says from which wall emissivity (eps + 1)/2 holds, ours is above.
    charts = {k for k, r in CHARTS.items() if r["quantity"].startswith("total emissivity, partial pressure")}
    correction = {f"GR{n}" for n in range(134, 147)}
    compared = {c.id for c in radiation_checks()} & set(CHARTS)
    assert charts | set(LECKNER) | correction | set(SMITH) | compared | {"GR147", "GR193"} == set(CHARTS)
    assert float(CHARTS["GR193"]["value"]) <= gas_radiation.WALL_EMISSIVITY
    assert float(CHARTS["GR147"]["value"]) == 10.0  # what the docstring of `emissivity` says of carbon dioxide
