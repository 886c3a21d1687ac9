"""Figures of a study: axes with units, readable in grey, and showing the numbers of the study."""

from dataclasses import replace

import numpy as np
import pytest
from matplotlib.lines import Line2D
from sample_studies import STUDIES
from test_drawing import extents, lettering

from ventcalc.job import study
from ventcalc.show import drawing, envelope_plot, path_plots, plots, state_map
from ventcalc.units import Q_, SYSTEMS
from ventcalc.vent import end_of_header, outlet_envelope, reversal

PRESSURE = {"US": "in. w.c.", "SI": "Pa"}
LENGTH = {"US": "ft", "SI": "m"}


@pytest.fixture(params=STUDIES, ids=str)
def found(request):
    return STUDIES[request.param]


def worst(found):
    return min(found.envelopes, key=lambda e: e.margin)


def figures(found, system="US"):
    e, coldest = worst(found), min(found.extremes, key=lambda m: m.coldest_wall - m.dew_point)
    return {
        "pressure": path_plots.pressure_path(found.scan, e.appliance, (e.high_state, e.low_state), system),
        "temperature": path_plots.temperature_path(found.scan, e.appliance, coldest.wall_state, system),
        "envelopes": envelope_plot.envelopes(found, system),
        "map": state_map.state_map(found, system),
    }


def labelled(axes):
    return {line.get_label(): line for line in axes.lines if not line.get_label().startswith("_")}


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


def test_nothing_written_leaves_the_paper(found):
    for name, figure in figures(found).items():
        width, height = figure.bbox.size
        outside = [t for t, b in extents(figure) if b.x0 < -1 or b.y0 < -1 or b.x1 > width + 1 or b.y1 > height + 1]
        assert not outside, (name, outside)


def test_lettering_is_ten_points_and_more(found):
    for name, figure in figures(found).items():
        assert min(text.get_size() for text in lettering(figure)) >= 10.0, name


def test_lines_differ_without_colour(found):
    """Each line of a path differs from the others in dashes, width or marker."""
    made = figures(found)
    for axes in (made["pressure"].axes[0], made["temperature"].axes[0]):
        looks = [
            (line._unscaled_dash_pattern, line.get_linewidth(), line.get_marker()) for line in labelled(axes).values()
        ]
        assert len({str(look) for look in looks}) == len(looks) >= 4


def test_tones_of_the_map_keep_their_order_in_grey():
    """Relative luminance (W3C, WCAG 2.2, definition of relative luminance) rises all the way."""
    colours = state_map._DRAFT_COLOURS(np.linspace(0, 1, 65))[:, :3]
    linear = np.where(colours <= 0.04045, colours / 12.92, ((colours + 0.055) / 1.055) ** 2.4)
    assert np.all(np.diff(linear @ [0.2126, 0.7152, 0.0722]) > 0)


def test_pressure_path_starts_at_the_outlet_and_is_losses_less_draft(found):
    e, solution = worst(found), found.scan.solution
    i = [a.name for a in found.job.plant.appliances].index(e.appliance)
    figure = path_plots.pressure_path(found.scan, e.appliance, (e.high_state, e.low_state), "SI")
    for axes, state in zip(figure.axes, (e.high_state, e.low_state), strict=True):
        lines = labelled(axes)
        static = lines["static pressure in the vent"].get_ydata()
        assert static[0] == pytest.approx(solution.outlet_pressure[i, state] + solution.room_gauge[i, state])
        both = [lines[name].get_ydata() for name in ("losses and wind still to come", "less: draft still to come")]
        rows = [solution.row(s.name) for s in found.job.plant.path(e.appliance)]
        up, down = solution.head_up[rows, state], solution.head_down[rows, state]  # total less static, at the ends
        head = np.ravel(np.column_stack([up, down, down]))
        assert np.sum(both, axis=0) - head == pytest.approx(static[1:])


def test_gas_falls_as_newton_cooled_it(found):
    """Halfway along a section the excess is the geometric mean of those at its ends (Newton's law of cooling)."""
    solution = found.scan.solution
    row = len(found.job.plant.order) - 1
    state = int(np.argmax(solution.flow[row]))
    outdoors = float(found.scan.seasons[found.scan.states.season[state]].outdoor.m_as("K"))
    gas, wall = path_plots._cooling(solution, row, state, outdoors, np.array([0.0, 0.5, 1.0]))
    ends = solution.upstream[row, state] - outdoors, solution.downstream[row, state] - outdoors
    assert gas[1] - outdoors == pytest.approx(np.sqrt(ends[0] * ends[1]))
    assert gas[[0, 2]] == pytest.approx([solution.upstream[row, state], solution.downstream[row, state]])
    assert wall[2] == pytest.approx(solution.wall[row, state])
    assert np.all(wall <= gas + 1e-9)


def test_envelopes_mark_both_ends_and_every_window(found):
    figure = envelope_plot.envelopes(found, "SI")
    written = [text for text, _ in extents(figure)]
    for e in found.envelopes:
        assert f"{e.low:.1f}".replace("-0.0", "0.0") in written and f"{e.high:.1f}" in written
        assert e.appliance in written
    boxes = len(figure.axes[0].patches)
    assert boxes == len(found.envelopes) + sum(len(study.alternate_envelopes(found, a)) for a in found.job.alternates)
    if len(found.envelopes) > 1:
        set_point = float(found.job.set_point.m_as("Pa"))
        assert any(
            isinstance(line, Line2D) and list(line.get_xdata()) == [set_point] * 2 for line in figure.axes[0].lines
        )


def test_map_shows_every_state_and_marks_the_bad_ones(found):
    figure = state_map.state_map(found, "SI")
    main = figure.axes[0]
    mesh = main.collections[0]
    # A cell holds wind against the vent and with it, and every past: the worst of them.
    states = found.scan.states
    _, cell = np.unique(
        np.vstack([states.codes, states.season, states.cold, states.windy]), axis=1, return_inverse=True
    )

    def cells(flags):
        return int((np.bincount(cell.ravel(), flags) > 0).sum())

    running = cells(~np.isnan(end_of_header.header_pressure(found.scan)))
    assert int((~np.ma.getmaskarray(mesh.get_array())).sum()) == running
    crosses, rings = (sum(len(line.get_xdata()) for line in main.lines if line.get_marker() == m) for m in ("x", "o"))
    assert crosses == cells(outlet_envelope.outside_window(found.scan).any(axis=0))
    assert rings == cells(reversal.gas_in_room(found.scan).any(axis=0))


def test_map_of_many_combinations_gathers_them(monkeypatch):
    monkeypatch.setattr(plots, "_MOST_ROWS", 10)
    figure = state_map.state_map(STUDIES["swim_hall"])
    assert figure.axes[0].get_ylim() == (0, 10)
    assert any("Each row gathers up to 7 firing combinations" in text for text, _ in extents(figure))


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
    us, si = (labelled(path_plots.pressure_path(found.scan, worst(found).appliance, (0,), s).axes[0]) for s in SYSTEMS)
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
