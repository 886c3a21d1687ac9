"""The chapters' display formulas, worked as they are typeset, give what the library gives."""

import math
import re
from collections.abc import Callable, Iterator, Mapping
from functools import cache
from importlib import import_module
from statistics import NormalDist

import pytest
from sample_formulas import equations, worked
from sample_sentences import CHAPTERS

from ventcalc.building import co_buildup, orifice_flow, plume
from ventcalc.draft import sensor_error, tuning
from ventcalc.flow import friction, heat_loss, junctions, stack_effect
from ventcalc.gas import atmosphere, combustion, condensation
from ventcalc.gas.fuels import fuel
from ventcalc.job import chance
from ventcalc.units import GAS_CONSTANT, GRAVITY

Worked = Iterator[tuple[Mapping[str, float], float]]
_ZERO = {"US": 459.67, "SI": 273.15}  # of °F and °C, above absolute zero
_CLOSE = 1e-3  # of what a formula's rounded constants give
_FITTED = {("05", "q"): 0.01}  # a straight line through what is not quite one


def _absolute(values: dict, system: str, *names: str) -> dict:
    return values | {name: values[name] + _ZERO[system] for name in names}


def _as_given(values: dict) -> dict:
    return values


def written(
    module: str,
    system: str,
    names: Mapping[str, str],
    *absolute: str,
    of=lambda expected, given: expected,
    change=_as_given,
) -> Callable:
    """The cases that a reader's own line is tried by: which argument each symbol is, and what the library gives."""

    def cases() -> Worked:
        task = import_module(f"ventcalc.handbook.{module}").writing(system)
        for case in task.cases:
            given = _absolute(dict(zip(task.arguments, case.given, strict=True)), system, *absolute)
            values = change({symbol: given[argument] for symbol, argument in names.items()})
            yield values, of(case.expected, given)

    return cases


def _standard_atmosphere() -> Worked:
    for z in (-500.0, 2400.0, 9000.0):
        h = atmosphere.EARTH_RADIUS * z / (atmosphere.EARTH_RADIUS + z)
        values = {"p_0": 101325.0, "T_0": 288.15, "L": 0.0065, "g": GRAVITY, "M": 0.0289644, "R": 8.31432}
        temperature = atmosphere.standard_temperature.bare(z)
        yield values | {"T": temperature, "H": h}, atmosphere.standard_pressure.bare(z)


def _lapse() -> Worked:
    for z in (-500.0, 2400.0, 9000.0):
        h = atmosphere.EARTH_RADIUS * z / (atmosphere.EARTH_RADIUS + z)
        yield {"T_0": 288.15, "L": 0.0065, "H": h}, atmosphere.standard_temperature.bare(z)


def _ideal_gas() -> Worked:
    for p, t in ((101325.0, 260.0), (75000.0, 300.0)):
        values = {"p": p, "T": t, "M": atmosphere.DRY_AIR_MOLAR_MASS, "R": GAS_CONSTANT}
        yield values, atmosphere.air_density.bare(t, p)


def _theoretical_air() -> Worked:
    for name in ("natural gas", "propane", "no. 2 oil"):
        moles = combustion.element_moles(fuel(name))
        values = {"M_a": atmosphere.DRY_AIR_MOLAR_MASS} | {f"n_{e}": moles.get(e, 0.0) for e in "CHSO"}
        yield values, combustion.theoretical_air(fuel(name))


def _saturated_share() -> Worked:
    gas = combustion.products(fuel("natural gas"), 0.2).gas
    for t in (300.0, 315.0):
        share = atmosphere.saturation_pressure.bare(t) / 101325.0
        vapor = condensation.saturated.bare(gas, t, 101325.0)[0].h2o
        yield {"x": gas.h2o, "x_s": share}, (1.0 - gas.h2o) * vapor / (1.0 - vapor)


def _acid() -> Worked:
    mmhg = 101325.0 / 760.0
    for water, acid in ((8000.0, 1.0), (12000.0, 0.01)):
        values = {"p_w": water / mmhg, "p_s": acid / mmhg}
        yield values, 1000.0 / condensation.acid_dew_point.bare(water, acid)


def _u_value() -> Worked:
    for film, resistance, outside, ratio in ((10.0, 0.0, 20.0, 1.0), (12.0, 0.5, 15.0, 1.25)):
        values = {"h_i": film, "R_w": resistance, "h_o": outside, "D": 0.2, "D_o": 0.2 * ratio}
        yield values, 1.0 / heat_loss.heat_transfer_coefficient.bare(film, resistance, outside, ratio)


def _nusselt() -> Worked:
    for reynolds, pr, rough in ((20000.0, 0.72, 0.0), (60000.0, 0.75, 0.004)):
        smooth, factor = friction.smooth_friction_factor.bare(reynolds), friction.friction_factor.bare(reynolds, rough)
        values = {"f_s": smooth, "f": max(factor, smooth), "Re": reynolds, "Pr": pr, "n": 0.68 * pr**0.215}
        yield values, heat_loss.nusselt.bare(reynolds, pr, rough)


def _cooling() -> Worked:
    for u, d, length, flow in ((3.0, 0.2, 12.0, 0.06), (6.0, 0.15, 5.0, 0.1)):
        values = {"U": u, "D": d, "L": length, "dotm": flow, "c_p": 1100.0}
        yield values, heat_loss.cooling_number.bare(u, d, length, flow, 1100.0)


def _cooled(function: Callable) -> Callable:
    def cases() -> Worked:
        for n in (0.1, 1.4):
            yield {"N": n, "T_a": 270.0, "T_in": 450.0}, function(450.0, 270.0, n)

    return cases


def _wall(surroundings: str) -> Callable:
    def cases() -> Worked:
        for u, film in ((3.0, 10.0), (7.0, 12.0)):
            values = {"T_g": 420.0, "U": u, "h_i": film, surroundings: 270.0}
            yield values, heat_loss.wall_temperature.bare(420.0, 270.0, u, film)

    return cases


def _colebrook() -> Worked:
    for reynolds, rough in ((30000.0, 0.005), (200000.0, 0.0002)):
        factor = friction.friction_factor.bare(reynolds, rough)
        yield {"varepsilon": rough, "Re": reynolds, "f": factor}, 1.0 / math.sqrt(factor)


def _reynolds() -> Worked:
    yield {"dotm": 0.07, "D": 0.2, "mu": 2.4e-5}, friction.reynolds.bare(0.07, 0.2, 2.4e-5)


def _velocity() -> Worked:
    yield {"dotm": 0.07, "D": 0.2, "rho": 0.8}, friction.velocity.bare(0.07, 0.8, 0.2)


def _pipe_loss(names: str) -> Callable:
    def cases() -> Worked:
        number = friction.reynolds.bare(0.07, 0.2, 2.4e-5)
        loss = friction.pressure_loss.bare(0.07, 0.8, 0.2, 12.0, 0.001, 2.4e-5)
        every = {"f": friction.friction_factor.bare(number, 0.005), "L": 12.0, "D": 0.2, "rho": 0.8, "dotm": 0.07}
        every["v"] = friction.velocity.bare(0.07, 0.8, 0.2)
        yield {name: every[name] for name in names.split()}, loss

    return cases


def _draft() -> Worked:
    for h, outdoor, gas in ((12.0, 1.3, 0.8), (40.0, 1.2, 0.7)):
        values = {"g": GRAVITY, "H": h, "rho_o": outdoor, "rho_g": gas}
        yield values, stack_effect.theoretical_draft.bare(h, outdoor, gas)


def _junction(function: Callable) -> Callable:
    def cases() -> Worked:
        for q, a, angle, r in ((0.3, 0.5, 90.0, 0.0), (0.7, 0.8, 45.0, 0.1)):
            values = {"q": q, "a": a, "theta": math.radians(angle), "r": r}
            yield values, function(q, a, angle, r)

    return cases


def _pi_gains() -> Worked:
    for lag, delay in ((3.2, 0.5), (20.0, 0.4)):
        gains = tuning.simc(tuning.Model(1.1, (lag,), delay), 2.0)
        yield {"T": lag, "K": 1.1, "T_c": 2.0, "theta": delay}, gains.kp.m_as("1/Pa")


def _pi_times() -> Worked:
    for lag, delay in ((3.2, 0.5), (20.0, 0.4)):
        gains = tuning.simc(tuning.Model(1.1, (lag,), delay), 2.0)
        yield {"T": lag, "T_c": 2.0, "theta": delay}, gains.ti.m_as("s")


def _narrowing() -> Worked:
    values = {"rho": 0.8, "v": 5.0, "K": 0.1, "D": 0.4, "d": 0.3}
    yield values, sensor_error.narrowing_error.bare(0.8, 5.0, 0.4, 0.3, 0.1)


def _opening() -> Worked:
    yield {"rho": 1.2, "Q": 0.5, "C": 0.6, "A": 0.2}, orifice_flow.opening_pressure.bare(0.5, 0.2, 1.2, 0.6)


def _rise() -> Worked:
    roof, rough = 6.0, 0.5
    ratio = 2.5 * math.log(roof / rough)
    for wind, velocity, x in ((2.0, 8.0, 3.0), (6.0, 10.0, 30.0), (1.5, 12.0, 400.0)):
        momentum = velocity**2 * 0.3**2 / 4.0
        values = {"F": momentum, "x": x, "beta": 1.0 / 3.0 + wind / velocity, "U": wind, "u_*": wind / ratio}
        yield values, plume.jet_rise.bare(x, wind, velocity, 0.3, roof, rough)


def _room_end() -> Worked:
    values = {"Q": 0.05, "C_o": 1e-6, "q": 0.003, "C_q": 1.5e-3}
    yield values, co_buildup.steady_state.bare(0.05, 0.003, 1.5e-3, 1e-6)


def _room() -> Worked:
    ends = co_buildup.steady_state.bare(0.05, 0.003, 1.5e-3, 1e-6)
    for time in (600.0, 7200.0):
        values = {"C_s": ends, "C_0": 4e-6, "k": 0.05 / 250.0, "t": time}
        yield values, co_buildup.concentration.bare(time, 250.0, 0.05, 0.003, 1.5e-3, 4e-6, 1e-6)


# By chapter, left side, and which of those with that left side in the chapter.
FORMULAS: dict[tuple[str, str, int], Callable[[], Worked]] = {
    ("01", "p", 0): _standard_atmosphere,
    ("01", "T", 0): _lapse,
    ("01", "rho", 0): _ideal_gas,
    ("01", "rho", 1): written("atmosphere", "US", {"B": "barometer", "T": "temperature"}, "temperature"),
    ("01", "rho", 2): written("atmosphere", "SI", {"B": "barometer", "T": "temperature"}, "temperature"),
    ("02", "A_0", 0): _theoretical_air,
    ("02", "e", 0): written("combustion", "SI", {"O_2": "o2"}, of=lambda percent, given: percent / 100.0),
    ("03", "rho", 0): _ideal_gas,
    ("04", "n", 0): _saturated_share,
    ("04", "T_w", 0): _wall("T_o"),
    ("04", "frac1000T", 0): _acid,
    **{
        ("05", "q", n): written(
            "appliance_category",
            system,
            {"e": "excess_air", "T_flue": "flue", "T_room": "room"},
            change=lambda v: v | {"e": v["e"] / 100.0},
        )
        for n, system in ((0, "US"), (1, "SI"))
    },
    ("06", "D_t", 0): _draft,
    **{
        ("06", "D_t", n): written(
            "stack_effect",
            system,
            {"B": "barometer", "H": "height", "T_o": "outdoor", "T_m": "gas"},
            "outdoor",
            "gas",
        )
        for n, system in ((1, "US"), (2, "SI"))
    },
    ("07", "frac1U", 0): _u_value,
    ("07", "Nu", 0): _nusselt,
    ("07", "N", 0): _cooling,
    ("07", "T_out", 0): _cooled(heat_loss.outlet_temperature.bare),
    ("07", "T_mean", 0): _cooled(heat_loss.mean_temperature.bare),
    ("07", "T_w", 0): _wall("T_a"),
    ("08", "Deltap", 0): _pipe_loss("f L D rho v"),
    ("08", "v", 0): _velocity,
    ("08", "Re", 0): _reynolds,
    ("08", "frac1sqrtf", 0): _colebrook,
    **{
        ("08", "Deltap", n): written(
            "friction",
            system,
            {"f": "factor", "L": "length", "D": "diameter", "rho": "density", "v": "velocity"},
        )
        for n, system in ((1, "US"), (2, "SI"))
    },
    ("10", "K_b", 0): _junction(junctions.branch_loss.bare),
    ("10", "K_s", 0): _junction(junctions.run_loss.bare),
    ("10", "p_s-p", 0): written(
        "junctions",
        "SI",
        {"p_v": "head", "q": "share", "theta": "angle", "a": "ratio"},
        change=lambda v: v | {"theta": math.radians(v["theta"])},
    ),
    **{
        ("11", "D", n): written("vent_sizing", system, {"dotm": "flow", "n": "heads", "rho": "density", "D_t": "draft"})
        for n, system in ((0, "US"), (1, "SI"))
    },
    **{
        ("13", "D_t", n): written(
            "area_rule",
            system,
            {"H": "height", "z": "reached", "T_o": "outdoor", "T_g": "gas", "T_c": "cold"},
            "outdoor",
            "gas",
            "cold",
        )
        for n, system in ((0, "US"), (1, "SI"))
    },
    ("14", "draft", 0): _draft,
    ("15", "Deltap", 0): written(
        "firing_states", "SI", {"C_terminal": "terminal", "C_room": "room", "rho": "density", "U": "speed"}
    ),
    ("19", "k_p", 0): _pi_gains,
    ("19", "T_i", 0): _pi_times,
    ("21", "Deltap", 0): _narrowing,
    ("23", "Deltap", 0): _opening,
    ("24", "Deltah", 0): _rise,
    ("25", "C_s", 0): _room_end,
    ("25", "C", 0): _room,
    ("24", "D", 0): written(
        "re_entrainment",
        "SI",
        {"U": "wind", "V": "velocity", "d": "diameter", "sigma_y": "across", "sigma_z": "upward", "zeta": "over"},
        of=lambda arrives, given: given["inside"] / arrives,
    ),
    ("26", "Deltap_static", 0): written(
        "remedies",
        "SI",
        {"p_h": "header", "p_set": "wanted", "K_cap": "cap", "rho": "head"},
        change=lambda v: v | {"v": math.sqrt(2.0)},
    ),
    ("29", "", 0): written(
        "chance",
        "SI",
        {"p": "failed", "n": "draws"},
        of=lambda percent, given: percent / 100.0,
        change=lambda v: {"p": v["p"] / v["n"], "n": v["n"], "z": NormalDist().inv_cdf(0.5 + 0.5 * chance.CONFIDENCE)},
    ),
    ("12", "q", 0): written(
        "capacity_tables",
        "SI",
        {"q_1": "low", "q_2": "high", "H": "height", "H_1": "lower", "H_2": "upper", "n": "elbows"},
    ),
    ("22", "h", 0): written(
        "clearances",
        "SI",
        {"p": "pitch", "s": "away"},
        change=lambda v: {"p": v["p"] / 1000.0, "s": v["s"], "a_1": 0.9144, "a_2": 0.6096, "R": 3.048},
    ),
    ("28", "dotQ_h", 0): written("writing_a_job", "SI", {"dotQ_l": "net", "H_h": "higher", "H_l": "lower"}),
    ("30", "dotQ", 0): written(
        "year",
        "SI",
        {"dotQ_b": "base", "dotQ_d": "design", "T_l": "limit", "T": "outdoor", "T_d": "coldest"},
        change=lambda v: v | {"T": min(v["T"], v["T_l"])},
    ),
}


@cache
def _cases(key: tuple[str, str, int]) -> tuple:
    return tuple(FORMULAS[key]())


def _right(key: tuple[str, str, int]) -> str:
    """The right side of an equation of the table."""
    name, left, which = key
    every = equations(next(c for c in CHAPTERS if c.startswith(name)))
    return [right for side, right in every if side == left][which]


def _agrees(key: tuple[str, str, int], right: str) -> bool:
    close = _FITTED.get(key[:2], _CLOSE)
    try:
        return all(worked(right, values) == pytest.approx(gives, rel=close) for values, gives in _cases(key))
    except (
        LookupError,
        ValueError,
        ArithmeticError,
        TypeError,
    ):  # a root of what is below zero, a lone sign
        return False


@pytest.mark.parametrize("key", FORMULAS, ids=lambda key: "-".join(map(str, key)))
def test_a_formula_gives_what_the_library_gives(key):
    right = _right(key)
    for values, expected in _cases(key):
        assert worked(right, values) == pytest.approx(expected, rel=_FITTED.get(key[:2], _CLOSE)), (key, values)


def _slips(right: str) -> Iterator[str]:
    """The formula with one number ten times as large, or one sign turned round."""
    for match in re.finditer(r"(?<![_\d.])\d+(?:\.\d+)?", right):
        number = match[0]
        ten = f"{float(number) * 10:g}"
        before, after = right[: match.start()], right[match.end() :]
        if not before.endswith("frac1") and not re.search(r"frac$", before):  # \\tfrac12: two numbers in one
            yield before + (f"{{{ten}}}" if before.endswith("^") else ten) + after
    for match in re.finditer(r"[-+]", right):
        yield right[: match.start()] + ("+" if match[0] == "-" else "-") + right[match.end() :]


@pytest.mark.parametrize("key", FORMULAS, ids=lambda key: "-".join(map(str, key)))
def test_a_slip_in_a_formula_is_noticed(key):
    unnoticed = [slip for slip in _slips(_right(key)) if _agrees(key, slip)]
    assert not unnoticed
