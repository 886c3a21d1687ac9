"""Flue gas, the chapter: questions by other means, live controls at both ends, its checks and figures."""

import itertools

import cantera
import pytest

from ventcalc import checked
from ventcalc.handbook import flue_gas
from ventcalc.show.writing import tried
from ventcalc.units import Q_, SYSTEMS


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


@pytest.mark.slow
@pytest.mark.parametrize("system", ["US", "SI"])
def test_live_controls_at_both_ends(system):
    panel = flue_gas.explorer(system)
    ends = [
        list(c.options) if n in ("burned", "name") else [c.options[0][1], c.options[-1][1]]
        for n, c in panel.controls.items()
    ]
    seen = set()
    for values in itertools.product(*ends):
        numbers, picture = flue_gas.explorer_answer(system, **dict(zip(panel.controls, values, strict=True)))
        assert picture.startswith(b"\x89PNG") and "nan" not in numbers
        seen.add(numbers)
    assert len(seen) == 3 * 2 * 2  # the property that is drawn changes no number
    before = panel.numbers.value
    panel.controls["burned"].value = "no. 2 oil"
    assert panel.numbers.value != before


@pytest.mark.parametrize("system", SYSTEMS)
def test_bars_tell_the_molar_masses(system):
    words = [t.get_text() for t in flue_gas.composition_bars(system).axes[0].texts]
    assert words == ["28.97 g/mol", "28.03 g/mol", "28.55 g/mol", "29.07 g/mol"]


@pytest.mark.parametrize(
    ("system", "units"),
    [("US", ("Btu/(lb·°F)", "lb/(ft·h)", "Btu/(h·ft·°F)")), ("SI", ("J/(kg·K)", "µPa·s", "mW/(m·K)"))],
)
def test_tables_follow_the_units(system, units):
    gas, hot = flue_gas.burned_gas(), Q_(350.0, "degF")
    parts = flue_gas.pure_gases(gas, [40.0] * 5, [2e-5] * 5, [0.03] * 5, system).data
    whole = flue_gas.mixtures({"by the rule": (1111.0, 2.4e-5, 0.036)}, system).data
    assert parts.count("<tr>") == 6 and whole.count("<tr>") == 2
    assert all(unit in told for unit in units for told in (parts, whole, flue_gas.beside_air(gas, hot, system).data))
    # 40 J/(mol K) of nitrogen, 28.01 g/mol: 1428 J/(kg K).
    assert "1,428 J/(kg·K)" in flue_gas.pure_gases(gas, [40.0] * 5, [2e-5] * 5, [0.03] * 5, "SI").data


def test_property_texts_in_both_systems():
    # Standard air, 70 °F and 29.92 inHg: 0.075 lb/ft3, 0.24 Btu/(lb °F) (common practice, no source).
    air, room = flue_gas.Gas.dry_air(), Q_(70.0, "degF")
    us, si = ([flue_gas.property_text(name, air, room, s) for name in flue_gas.PROPERTIES] for s in ("US", "SI"))
    assert us[0] == "0.0749 lb/ft³" and us[1].startswith("0.2399") and si[0] == "1.200 kg/m³"
    assert us[4] == si[4] and all("Δ" not in text for text in us + si)


# --- Prediction, and what the reader writes ---


@pytest.mark.parametrize("system", SYSTEMS)
def test_the_prediction_worked_again(system):
    # Methane stands for natural gas: CH4 + 2 O2, 1.3 x 9.547 mol of air. At 70 degF water has 2.505 kPa (steam tables,
    # from memory), so that 2.47 % of the gas that is left is vapor.
    air = 1.3 * 2.0 / 0.2095
    dry = (0.04401 + air * 0.028965 - 2 * 0.031998) / (air - 1.0)
    left = 0.0247 * 0.018015 + (1.0 - 0.0247) * dry
    found = flue_gas.gone_cold(Q_(70.0, "degF"), 0.3)
    assert found["figure"].m_as("") == pytest.approx(left / 0.028965 - 1.0, abs=1e-3)
    assert found["right"] == 2 and "sinks" in flue_gas.prediction(system).choices[2]


def test_the_prediction_goes_with_the_temperature():
    # In a hot room nothing condenses and the gas rises; in between it weighs the same.
    rooms = [Q_(float(celsius), "degC") for celsius in (60, 38, 15)]
    assert [flue_gas.gone_cold(room, 0.3)["right"] for room in rooms] == [0, 1, 2]


def by_shares(co2, h2o, o2):
    return (44.01 * co2 + 18.015 * h2o + 32.00 * o2 + 28.15 * (100.0 - co2 - h2o - o2)) / 100.0


@pytest.mark.parametrize("system", SYSTEMS)
def test_what_is_written_is_right_by_other_means(system):
    task, gas = flue_gas.writing(system), cantera.Solution("gri30.yaml")

    def by_another_library(co2, h2o, o2):
        rest = 100.0 - co2 - h2o - o2
        gas.TPX = 300.0, 101325.0, {"CO2": co2, "H2O": h2o, "O2": o2, "N2": rest * 0.98823, "AR": rest * 0.01177}
        return gas.mean_molecular_weight

    slips = {
        "no_nitrogen": lambda c, h, o: by_shares(c, h, o) - 0.2816 * (100.0 - c - h - o),
        "water_twice": lambda c, h, o: by_shares(c, h, o) + 0.2816 * h,
        "dry": lambda c, h, o: (by_shares(c, h, o) - 0.18015 * h) / (1.0 - 0.01 * h),
        "by_weight": lambda c, h, o: 100.0 / (c / 44.01 + h / 18.015 + o / 32.0 + (100.0 - c - h - o) / 28.15),
    }
    for written in (by_shares, by_another_library):
        assert {tried(task, case, written).kind for case in task.cases} == {"right"}
    for slip, wrong in slips.items():
        assert {tried(task, case, wrong).words for case in task.cases} == {task.slips[slip]}
