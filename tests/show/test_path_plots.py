"""Path plots: losses less draft; gas that falls as Newton cooled it."""

import numpy as np
import pytest
from sample_figures import labeled, worst
from sample_studies import STUDIES

from ventcalc.show import path_plots


@pytest.fixture(params=STUDIES, ids=str)
def found(request):
    return STUDIES[request.param]


def test_pressure_path_starts_at_the_outlet_and_is_losses_less_draft(found):
    e, solution = worst(found), found.scan.solution
    i = [a.name for a in found.job.plant.appliances].index(e.appliance)
    figure = path_plots.pressure_path(found.scan, e.appliance, (e.high_state, e.low_state), "SI")
    for axes, state in zip(figure.axes, (e.high_state, e.low_state), strict=True):
        lines = labeled(axes)
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
    gas, wall = path_plots.gas_and_wall(solution, row, state, outdoors, np.array([0.0, 0.5, 1.0]))
    ends = solution.upstream[row, state] - outdoors, solution.downstream[row, state] - outdoors
    assert gas[1] - outdoors == pytest.approx(np.sqrt(ends[0] * ends[1]))
    assert gas[[0, 2]] == pytest.approx([solution.upstream[row, state], solution.downstream[row, state]])
    assert wall[2] == pytest.approx(solution.wall[row, state])
    assert np.all(wall <= gas + 1e-9)
