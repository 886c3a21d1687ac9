"""Left out: every remedy is compared, or left out with its reason."""

import pytest
from sample_plants import row_plant
from sample_remedies import JOBS, job_of

from ventcalc.job import remedy_words

EVERY = {
    *(
        "as drawn",
        "larger vent",
        "larger connectors",
        "laterals",
        "taller stack",
        "better cap",
        "narrower vent",
        "liner",
    ),
    *("fan", "damper", "fan and damper"),
    *("shorter stack with a fan", "damper at each outlet", "damper at each outlet and a fan"),
}


@pytest.mark.parametrize("name", JOBS)
def test_each_remedy_is_compared_or_left_out_with_its_reason(compared, name):
    shown = {o.remedy.name.removesuffix(", other set point") for o in compared[name][1]}
    shown -= {
        "pipe changes",
        "pipe changes, more of them",
        "pipe changes and a damper",
        "liner and a fan",
    }  # of those above, together
    left = dict(remedy_words.left_out(JOBS[name]))
    assert not shown & set(left)
    missing = EVERY - shown - set(left)
    assert missing <= {"damper at each outlet and a fan"} and (not missing or "damper at each outlet" in left)
    assert all(why[0].isupper() and why.endswith(".") for why in left.values())


def test_why_remedies_are_left_out():
    laundry = dict(remedy_words.left_out(JOBS["laundry"]))
    assert "does not rise" in laundry["taller stack"] and "does not rise" in laundry["shorter stack with a fan"]
    assert "one appliance" in laundry["damper at each outlet"] and "square" in laundry["laterals"]
    hoods = dict(remedy_words.left_out(job_of(row_plant(2, "draft hood"))))
    assert "spill" in hoods["damper at each outlet"]
    assert "800 mm" in dict(remedy_words.left_out(job_of(row_plant(2, header_mm=900))))["larger vent"]
