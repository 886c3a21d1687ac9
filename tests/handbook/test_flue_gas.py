"""Flue gas, the chapter: questions by other means, live controls at both ends, its checks and figures."""

import itertools

import cantera
import pytest

from ventcalc import checked
from ventcalc.handbook import flue_gas
from ventcalc.units import Q_


def test_every_check_agrees_or_says_why():
    found = flue_gas.checks()
    assert checked.unexplained(found) == []
    assert len(found) == 60
    # One density printed a digit off, two viscosities of an old table; their remarks say so.
    assert [c.id for c in found if not c.agrees] == ["G053", "G056", "G060"]


def by_cantera():
    """Molar mass, density and enthalpy of the questions' gases by Cantera's gri30; density ratio by hand."""
    gas = cantera.Solution("gri30.yaml")

    def at(moles, kelvin):
        gas.TPX = kelvin, 101325, moles
        return gas

    air = {"N2": 0.7808, "O2": 0.2095, "AR": 0.0093, "CO2": 0.0004}

    def burned(excess):
        # The natural gas of data/gas/fuels.csv, by its atoms: 1.029 C, 4.017 H, 0.010 N2 and 0.0104 O per mole of it.
        supplied = (1.0289 + 4.0174 / 4 - 0.0104 / 2) / 0.2095 * (1 + excess)
        moles = {s: x * supplied for s, x in air.items()}
        moles["O2"] -= supplied / (1 + excess) * 0.2095
        return moles | {"CO2": moles["CO2"] + 1.0289, "H2O": 4.0174 / 2, "N2": moles["N2"] + 0.010}

    mixture = {"CO2": 0.08, "H2O": 0.16, "N2": 0.71, "O2": 0.04, "AR": 0.01}
    hot, warm = ((f + 459.67) / 1.8 for f in (450.0, 250.0))
    pound_per_hour = 0.45359237 / 3600
    given_off = at(burned(0.3), hot).enthalpy_mass - at(burned(0.3), warm).enthalpy_mass
    weight = at(air, 300).mean_molecular_weight
    return [
        (Q_(at(mixture, 300).mean_molecular_weight / weight, ""), 1e-3),
        (Q_(1000 * pound_per_hour / at(burned(0.3), 449.8167).density, "m**3/s"), 2e-3),
        (Q_(2000 * pound_per_hour * given_off, "W"), 4e-3),
        (Q_(294.261 * at(burned(0.0), 300).mean_molecular_weight / weight, "K"), 1e-3),
    ]


@pytest.mark.parametrize("system", ["US", "SI"])
def test_questions(system):
    for exercise, (expected, near) in zip(flue_gas.questions(system), by_cantera(), strict=True):
        assert exercise.expected.m_as(expected.units) == pytest.approx(expected.m, rel=near)
        assert exercise.check(expected).kind == "right"
        assert exercise.check(exercise.example).kind == "wrong"
        for slip in exercise.slips:
            verdict = exercise.check(slip.answer)
            assert verdict.kind == "wrong" and verdict.sentence == slip.reason


@pytest.mark.parametrize("system", ["US", "SI"])
def test_live_controls_at_both_ends(system):
    panel = flue_gas.explorer(system)
    ends = [
        list(c.options) if n == "burned" else [c.options[0][1], c.options[-1][1]] for n, c in panel.controls.items()
    ]
    seen = set()
    for values in itertools.product(*ends):
        numbers, picture = flue_gas.explorer_answer(system, **dict(zip(panel.controls, values, strict=True)))
        assert picture.startswith(b"\x89PNG") and "nan" not in numbers
        seen.add(numbers)
    assert len(seen) == 3 * 2 * 2
    before = panel.numbers.value
    panel.controls["burned"].value = "no. 2 oil"
    assert panel.numbers.value != before


@pytest.mark.parametrize(("system", "heat", "degree"), [("US", "Btu/(lb·°F)", "°F"), ("SI", "J/(kg·K)", "°C")])
def test_figures_say_their_units(system, heat, degree):
    left, right = flue_gas.property_curves(flue_gas.burned_gas(), Q_(400.0, "K"), system).axes
    assert left.get_ylabel() == heat and left.get_xlabel().endswith(degree)
    assert right.get_ylabel() and len(left.lines) == 3
    words = [t.get_text() for t in flue_gas.composition_bars(system).axes[0].texts]
    assert words == ["28.97 g/mol", "28.03 g/mol", "28.55 g/mol", "29.07 g/mol"]


def test_property_texts_in_both_systems():
    # Standard air, 70 °F and 29.92 inHg: 0.075 lb/ft3, 0.24 Btu/(lb °F) (common practice, no source).
    air, room = flue_gas.Gas.dry_air(), Q_(70.0, "degF")
    us, si = ([flue_gas.property_text(name, air, room, s) for name in flue_gas.PROPERTIES] for s in ("US", "SI"))
    assert us[0] == "0.0749 lb/ft³" and us[1].startswith("0.2399") and si[0] == "1.200 kg/m³"
    assert us[4] == si[4] and all("Δ" not in text for text in us + si)
