"""Hand calculation: its lines by an independent library, its sum by adding, and the sum beside the solver's figure."""

from dataclasses import replace

import fluids
import numpy as np
import pytest
from sample_reports import kept, text
from sample_studies import STUDIES

from ventcalc.show import hand_calculation
from ventcalc.units import SYSTEMS
from ventcalc.vent.network import compile_network

NEAR = 0.05  # of the largest part: a mean temperature for its course along a cold stack (measured: 0.3 to 4.4 %)
LESS = ("draft", "fan", "outlet", "room")


@pytest.mark.parametrize("name", STUDIES)
def test_the_sum_is_that_of_its_parts_and_comes_near_the_solver(name):
    told = hand_calculation.hand_calculation(STUDIES[name], "SI")
    parts = {part: told["parts"][part]["value"] for part in hand_calculation.PARTS}
    by_hand = sum(-value if part in LESS else value for part, value in parts.items())
    assert told["hand"]["value"] == pytest.approx(by_hand, abs=1e-9)
    assert told["difference"]["value"] == pytest.approx(by_hand - told["solver"]["value"], abs=1e-9)
    assert abs(told["difference"]["value"]) < NEAR * max(map(abs, parts.values()))
    worst = min(STUDIES[name].envelopes, key=lambda e: e.margin)
    if told["appliance"] == worst.appliance:
        assert told["solver"]["value"] in (pytest.approx(worst.low), pytest.approx(worst.high))


@pytest.mark.parametrize("name", STUDIES)
def test_a_line_by_another_library(name):
    """fluids (C. Bell): Colebrook's factor and the loss of a pipe; 9.80665 m/s2 for the draft."""
    found = STUDIES[name]
    told = hand_calculation.hand_calculation(found, "SI")
    network = compile_network(found.scan.plant, found.scan.seasons)
    for line in told["sections"]:
        row, section = found.scan.plant.row(line["name"]), found.scan.plant.section(line["name"])
        diameter, length = section.diameter.m_as("m"), section.length.m_as("m")
        density, velocity = line["density"]["value"], line["velocity"]["value"]
        assert velocity * density * np.pi / 4.0 * diameter**2 == pytest.approx(line["flow"]["value"], rel=1e-9)
        roughness = network.pipes[row].relative_roughness
        factor = line["friction"] * diameter / length
        reynolds = density * velocity * diameter / 1.9e-5  # viscosity of flue gas at 50 to 200 degC is 1.8 to 2.5e-5
        if reynolds > 1e4:
            ours = fluids.friction_factor(Re=reynolds, eD=roughness)
            assert factor == pytest.approx(ours, rel=0.08)  # the factor moves with a quarter power of viscosity
        drop = fluids.dP_from_K(line["friction"] + line["fixed"], density, velocity)
        assert line["loss"]["value"] == pytest.approx(drop, rel=1e-9)
        lighter = line["outdoor"]["value"] - density
        assert line["draft"]["value"] == pytest.approx(9.80665 * line["rise"]["value"] * lighter, rel=1e-9)


def test_where_gas_falls_down_the_vent_in_every_worst_condition_none_is_worked():
    found = STUDIES["laundry"]
    solution = found.scan.solution
    backward = replace(found, scan=replace(found.scan, solution=replace(solution, flow=-np.abs(solution.flow))))
    assert hand_calculation.hand_calculation(backward, "US") is None


@pytest.mark.slow
@pytest.mark.parametrize("system", SYSTEMS)
def test_the_report_has_it_with_its_sources(system):
    told = kept("swim_hall", system)["calculation"]
    page = text("swim_hall", system)
    chapter = page[page.index("One condition, worked by hand") :]
    for name in ("hand", "solver", "difference"):
        assert told[name]["shown"] in chapter
    assert all(line["loss"]["shown"] in chapter for line in told["sections"])
