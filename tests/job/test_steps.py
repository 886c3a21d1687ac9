"""Steps: a part of the work tells of its share of the whole; a study tells of more and more."""

import sample_studies

from ventcalc.job import steps, study


def test_a_part_is_told_as_a_share_of_the_whole():
    heard = []
    part = steps.within(lambda step, share: heard.append((step, share)), 0.5, 0.9)
    part("begin", 0.0)
    part("end", 1.0)
    assert heard == [("begin", 0.5), ("end", 0.9)]


def test_a_study_tells_of_more_and_more():
    heard = []
    found = study.study(sample_studies.studied("laundry").job, told=lambda step, share: heard.append((step, share)))
    shares = [share for _, share in heard]
    assert shares == sorted(shares) and 0.0 <= shares[0] < 0.2 and shares[-1] == 1.0 and len(heard) > 8
    assert all(step and step == step.strip() for step, _ in heard)
    assert [o.order for o in found.outcomes] == [o.order for o in sample_studies.studied("laundry").outcomes]
