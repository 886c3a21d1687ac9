"""Figures of a study: axes with units, readable in grey, and showing the numbers of the study."""

from dataclasses import replace

import numpy as np
import pytest
from sample_figures import LENGTH, PRESSURE, extents, labeled, lettering, worst
from sample_studies import STUDIES

from ventcalc.job import study
from ventcalc.show import drawing, envelope_plot, path_plots, plots, state_map
from ventcalc.units import Q_, SYSTEMS


@pytest.fixture(params=STUDIES, ids=str)
def found(request):
    return STUDIES[request.param]


def figures(found, system="US"):
    e, coldest = worst(found), min(found.extremes, key=lambda m: m.nearest_wall - m.dew_point)
    return {
        "pressure": path_plots.pressure_path(found.scan, e.appliance, (e.high_state, e.low_state), system),
        "temperature": path_plots.temperature_path(found.scan, e.appliance, coldest.wall_state, system),
        "envelopes": envelope_plot.envelopes(found, system),
        "map": state_map.state_map(found, system),
    }


@pytest.mark.parametrize("system", SYSTEMS)
def test_axes_carry_names_and_units(found, system):
    made = figures(found, system)
    for axes in made["pressure"].axes:
        assert axes.get_ylabel() == f"pressure, {PRESSURE[system]}"
    assert made["pressure"].axes[-1].get_xlabel().endswith(f"from the outlet, {LENGTH[system]}")
    assert made["temperature"].axes[0].get_ylabel() == f"temperature, {'°F' if system == 'US' else '°C'}"
    assert made["temperature"].axes[0].get_xlabel().endswith(f", {LENGTH[system]}")
    assert PRESSURE[system] in made["envelopes"].axes[0].get_xlabel()
    labels = [axes.get_ylabel() for axes in made["map"].axes] + [axes.get_xlabel() for axes in made["map"].axes]
    assert f"total heat input, {'MBH' if system == 'US' else 'kW'}" in labels
    assert any(label.startswith("pressure") and label.endswith(PRESSURE[system]) for label in labels)


@pytest.mark.slow
def test_nothing_written_leaves_the_paper(found):
    for name, figure in figures(found).items():
        width, height = figure.bbox.size
        outside = [t for t, b in extents(figure) if b.x0 < -1 or b.y0 < -1 or b.x1 > width + 1 or b.y1 > height + 1]
        assert not outside, (name, outside)


@pytest.mark.slow
def test_lettering_is_ten_points_and_more(found):
    for name, figure in figures(found).items():
        assert min(text.get_size() for text in lettering(figure)) >= 10.0, name


def test_lines_differ_without_color(found):
    """Each line of a path differs from the others in dashes, width or marker."""
    made = figures(found)
    for axes in (made["pressure"].axes[0], made["temperature"].axes[0]):
        looks = [
            (line._unscaled_dash_pattern, line.get_linewidth(), line.get_marker()) for line in labeled(axes).values()
        ]
        assert len({str(look) for look in looks}) == len(looks) >= 4


@pytest.mark.slow
def test_long_names_stay_on_the_paper():
    found = STUDIES["swim_hall"]
    plant = found.job.plant
    long = "Steam boiler of the northern wing behind the old coal sto"  # 57 of the 60 letters a name may have
    named = {s.name: f"{long} {k}" for k, s in enumerate(plant.sections)}
    renamed = replace(
        plant,
        appliances=tuple(replace(a, name=f"{long} {k}") for k, a in enumerate(plant.appliances)),
        feeds=tuple(named[f] for f in plant.feeds),
        sections=tuple(replace(s, name=named[s.name], into=named.get(s.into, s.into)) for s in plant.sections),
    )
    again = study.study(
        replace(found.job, plant=renamed, alternates=(), offered=None), compare=False
    )  # no remedy is drawn here
    for name, figure in (figures(again) | {"layout": drawing.layout_drawing(renamed)}).items():
        width, height = figure.bbox.size
        outside = [t for t, b in extents(figure) if b.x0 < -1 or b.y0 < -1 or b.x1 > width + 1 or b.y1 > height + 1]
        assert not outside, (name, outside)


def test_unit_systems_show_the_same_pressures(found):
    us, si = (labeled(path_plots.pressure_path(found.scan, worst(found).appliance, (0,), s).axes[0]) for s in SYSTEMS)
    for name, line in us.items():
        pascal = Q_(np.asarray(line.get_ydata(), float), "inH2O").m_as("Pa")
        assert pascal == pytest.approx(np.asarray(si[name].get_ydata(), float), abs=1e-9)


def test_png_is_one_of_the_size_asked_for():
    figure = envelope_plot.envelopes(STUDIES["laundry"])
    data = plots.png(figure, 100.0)
    assert data.startswith(b"\x89PNG\r\n\x1a\n")
    wide = int.from_bytes(data[16:20], "big")  # ISO/IEC 15948: the width follows the IHDR tag
    assert wide == int(figure.get_figwidth() * 100)


def test_figures_leave_no_trace_in_pyplot():
    import matplotlib.pyplot as plt

    before = plt.get_fignums()
    plots.png(state_map.state_map(STUDIES["laundry"]))
    assert plt.get_fignums() == before
