"""Figures of remedies: what they show is what was found."""

from dataclasses import replace

import numpy as np
import pytest
from sample_studies import studied

from ventcalc.draft.limit_switches import Trip
from ventcalc.job import job_file
from ventcalc.job.findings import Judgement
from ventcalc.show import plots, remedy_plots
from ventcalc.units import SYSTEMS

HALL = job_file.demonstration("swim_hall")


@pytest.fixture(scope="module")
def found():
    return studied("swim_hall")


def words(figure):
    return [t.get_text() for axes in figure.axes for t in axes.texts]


@pytest.mark.parametrize("system", SYSTEMS)
def test_comparison_shows_every_remedy_and_its_worst_excursion(found, system):
    figure = remedy_plots.comparison(found.outcomes, system)
    axes = figure.axes[0]
    assert "in. w.c." in axes.get_xlabel() if system == "US" else "Pa" in axes.get_xlabel()
    shown = [w.replace("\n", " ") for w in words(figure)]
    assert all(o.remedy.name in shown for o in found.outcomes)
    # Two hold every window of the hall, and something speaks against each of them.
    judged = [o for o in found.outcomes if o.holds]
    assert judged and not any(o.cured for o in judged) and not any("cures it" in w for w in shown)
    assert [f"{len(o.judgement.against)} against it" in shown for o in judged] == [True] * len(judged)
    widths = sorted(abs(p.get_width()) for p in axes.patches)
    unit = 249.08891 if system == "US" else 1.0
    worst = max(max(e.above, e.below) for o in found.outcomes for e in o.envelopes) / unit
    assert widths[-1] == pytest.approx(worst, rel=1e-5)


def test_comparison_marks_what_nothing_speaks_against(found):
    held, *others = found.outcomes
    figure = remedy_plots.comparison((replace(held, judgement=Judgement(())), *others))
    assert sum("cures it" in w for w in words(figure)) == 1
    bold = {t.get_text().replace("\n", " ") for t in figure.axes[0].texts if t.get_weight() == "bold"}
    assert bold == {held.remedy.name, "✓ cures it"}


def test_duty_shows_one_mark_a_state(found):
    outcome = found.offered.outcome
    axes = remedy_plots.duty(outcome).axes[0]
    marks = sum(line.get_xdata().size for line in axes.lines if line.get_marker() not in ("None", None, ""))
    assert marks == outcome.duty.states.size
    standard = outcome.duty.static * outcome.remedy.fan.fan.curve_density / outcome.duty.density / 249.08891
    shown = np.concatenate([line.get_ydata() for line in axes.lines if line.get_marker() not in ("None", None, "")])
    assert np.sort(shown) == pytest.approx(np.sort(standard), rel=1e-5, abs=1e-6)


def test_trial_shows_pressure_setting_and_every_burner(found):
    run = found.offered.trial
    figure = remedy_plots.trial(run)
    assert len(figure.axes) == 2 + len(run.timeline.names)
    assert set(run.timeline.names) <= set(words(figure))
    assert {a.get_xlabel() for a in figure.axes} >= {"time, s"} and plots.png(figure, 60).startswith(b"\x89PNG")


@pytest.mark.parametrize("stopped", [True, False])
def test_a_burner_that_a_limit_stops_is_off_from_then_on(found, stopped):
    run = found.offered.trial
    name = run.timeline.names[0]
    times, codes = run.timeline.corners(name)
    middle = float(0.5 * (times[0] + times[-1]))
    trip = Trip("header", middle, -30.0, (name,) if stopped else (), False)
    at, shown = remedy_plots.stopped_corners(replace(run, trace=replace(run.trace, trips=(trip,))), name)
    for time in np.linspace(times[0], times[-1], 41):
        expected = 0.0 if stopped and time >= middle else np.interp(time, times, codes)
        assert np.interp(time, at, shown) == pytest.approx(expected)
