"""Next reading: information of known cases, and that nobody is sent where gas may come into the room."""

import numpy as np
import pytest
from sample_plants import row_plant
from sample_remedies import job_of
from sample_surveys import Hidden, first_reads, rank
from scipy.stats import norm

from ventcalc.job import survey_causes
from ventcalc.job.calibration import calibrate
from ventcalc.job.next_reading import OWN_SLOPES, conditions, next_reading, shared_information, usual_error
from ventcalc.job.survey import Survey
from ventcalc.job.surveyed_vent import DRAWN_FORMULA, SurveyedVent, batch

SHARES = np.array([0.5, 0.5])


def test_what_is_foretold_alike_tells_nothing_and_what_is_far_apart_all():
    assert shared_information(SHARES, np.array([1.0, 1.0]), np.array([1.0, 1.0])) == pytest.approx(0.0, abs=1e-9)
    # The entropy of two equal chances, ln 2 (Shannon 1948).
    assert shared_information(SHARES, np.array([0.0, 50.0]), np.array([1.0, 2.0])) == pytest.approx(np.log(2), rel=1e-4)


def test_information_is_that_of_many_draws():
    shares, means, deviations = np.array([0.7, 0.3]), np.array([0.0, 1.5]), np.array([1.0, 0.6])
    rng = np.random.default_rng(2)
    which = rng.choice(2, 400_000, p=shares)
    x = rng.normal(means[which], deviations[which])
    densities = norm.pdf(x[:, None], means, deviations)
    drawn = np.log(densities[np.arange(x.size), which] / (densities @ shares)).mean()
    assert shared_information(shares, means, deviations) == pytest.approx(drawn, abs=0.005)


def test_usual_error_is_the_limit_over_the_root_of_three():
    # Uniform within its limits: JCGM 100:2008, 4.3.7. 0.002 in. w.c. and 1 % of the reading: data/job/instruments.csv.
    assert usual_error("pressure", -100.0) == pytest.approx((0.002 * 249.089 + 1.0) / np.sqrt(3.0), rel=1e-3)


def test_a_blocked_connector_is_told_from_a_blocked_stack_by_the_other_outlet():
    job = job_of(row_plant(2))
    cause = next(c for c in survey_causes.causes(job) if (c.code, c.subject) == ("section_blocked", "connector 1"))
    of = Hidden(job, cause, np.array([[0.7]]), 11)
    readings = of.take(first_reads(job, 11))
    found = calibrate(Survey(job, readings))
    following = next_reading(found)
    assert following.refused == () and following.best is following.candidates[0]
    informations = [c.information for c in following.candidates]
    assert informations == sorted(informations, reverse=True) and informations[0] > 0.1
    assert all(c.read not in first_reads(job, 11) for c in following.candidates)
    again = calibrate(Survey(job, (*readings, *of.take((following.best.read,)))))
    assert rank(again, cause)[0] <= rank(found, cause)[0]


def test_nobody_is_sent_where_a_leading_cause_lets_gas_into_the_room():
    job = job_of(row_plant(2, kind="draft hood", celsius=120.0, vent="Type B gas vent", stack_height=4.0))
    cause = next(c for c in survey_causes.causes(job) if c.code == "room_negative")
    of = Hidden(job, cause, np.array([[0.9]]), 3)
    following = next_reading(calibrate(Survey(job, of.take(first_reads(job, 3)))))
    assert following.refused
    fires = [c for c in following.refused if any(level != "off" for level in c.levels)]
    assert fires == list(following.refused)
    assert not {c.read.condition for c in following.candidates} & set(following.refused)


def test_what_is_foretold_is_what_the_best_fit_shows_as_uncertain_as_that_leaves_it():
    """Another way: the vent solved at the best fit of each explanation (`Calibration.fit`, by least squares), and what
    the curvature there leaves open, carried on to every candidate by slopes that are taken there."""
    job = job_of(row_plant(2))
    cause = next(c for c in survey_causes.causes(job) if (c.code, c.subject) == ("section_blocked", "connector 1"))
    of = Hidden(job, cause, np.array([[0.7]]), 11)
    found = calibrate(Survey(job, of.take(first_reads(job, 11))))
    candidates = next_reading(found).candidates
    vent, reads, step = SurveyedVent(job, conditions(found)), [c.read for c in candidates], 0.1
    for place, k in enumerate(candidates[0].leading):
        explanation = found.explanations[k]
        fit, many = found.fit(explanation), len(vent.inputs)
        scores = fit.scores[:, None] + step * np.eye(fit.scores.size, fit.scores.size + 1)
        parts = [(explanation.causes, norm.cdf(scores[many:]).T, scores[:many], DRAWN_FORMULA)]
        *stepped, at = batch(vent, reads, parts)[0][0]
        slopes = (np.array(stepped) - at).T / step
        deviation = np.sqrt(np.einsum("ij,jk,ik->i", slopes, fit.covariance, slopes))
        errors, told, whole = (
            np.array(v) for v in zip(*((c.error, c.means[place], c.deviations[place]) for c in candidates), strict=True)
        )
        free = deviation > 0.01 * errors
        left, off = np.sqrt(np.maximum(whole**2 - errors**2, 0.0))[free], np.abs(told - at)[free]
        assert free.sum() > 100 and (off < left).all()
        assert np.abs(told - at)[~free] == pytest.approx(0.0, abs=1e-6)
        if explanation.chance > OWN_SLOPES:
            assert left == pytest.approx(deviation[free], rel=0.3)


def test_a_condition_is_refused_where_but_one_of_the_leading_causes_lets_gas_in():
    """Each explanation solved again at its own best point, in every condition that could be asked for."""
    job = job_of(row_plant(2, kind="draft hood", celsius=120.0, vent="Type B gas vent", stack_height=4.0))
    cause = next(c for c in survey_causes.causes(job) if c.code == "terminal_blocked")
    of = Hidden(job, cause, np.array([[0.8]]), 3)
    found = calibrate(Survey(job, of.take(first_reads(job, 3))))
    following, every = next_reading(found), conditions(found)
    vent, parts = SurveyedVent(job, every), []
    for e in (found.explanations[k] for k in following.candidates[0].leading):
        at = [(v - c.kind.least) / (c.kind.most - c.kind.least) for c, v in zip(e.causes, e.values, strict=True)]
        parts.append((e.causes, np.array([at]), np.zeros((len(vent.inputs), 1)), DRAWN_FORMULA))
    spills = np.array([s.any(axis=0) for s in batch(vent, [following.candidates[0].read], parts, every)[1]])
    assert (spills.any(axis=0) & ~spills.all(axis=0)).any()  # not all of them let gas in everywhere
    assert {c for c, bad in zip(every, spills.any(axis=0), strict=True) if bad} <= set(following.refused)
    assert not {c.read.condition for c in following.candidates} & set(following.refused)
