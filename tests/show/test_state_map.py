"""State map: every state, the bad ones marked, tones that keep their order in grey."""

import numpy as np
import pytest
from sample_figures import extents
from sample_studies import STUDIES

from ventcalc.show import state_map
from ventcalc.vent import end_of_header, outlet_envelope, reversal


@pytest.fixture(params=STUDIES, ids=str)
def found(request):
    return STUDIES[request.param]


def test_tones_of_the_map_keep_their_order_in_grey():
    """Relative luminance (W3C, WCAG 2.2, definition of relative luminance) rises all the way."""
    colors = state_map._DRAFT_COLORS(np.linspace(0, 1, 65))[:, :3]
    linear = np.where(colors <= 0.04045, colors / 12.92, ((colors + 0.055) / 1.055) ** 2.4)
    assert np.all(np.diff(linear @ [0.2126, 0.7152, 0.0722]) > 0)


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
    assert rings == cells(reversal.flue_gas_enters(found.scan).any(axis=0))


def test_map_of_many_combinations_gathers_them(monkeypatch):
    monkeypatch.setattr(state_map, "_MOST_ROWS", 10)
    figure = state_map.state_map(STUDIES["swim_hall"])
    assert figure.axes[0].get_ylim() == (0, 10)
    assert any("Each row gathers up to 7 firing combinations" in text for text, _ in extents(figure))
