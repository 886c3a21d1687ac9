"""Envelope plot: both ends and every window."""

import pytest
from matplotlib.lines import Line2D
from sample_figures import extents
from sample_studies import STUDIES

from ventcalc.job import study
from ventcalc.show import envelope_plot


@pytest.fixture(params=STUDIES, ids=str)
def found(request):
    return STUDIES[request.param]


@pytest.mark.slow
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
