"""The same job by two ways through the library: told otherwise, or with an answer of its study written into its file.

Two answers that differ would be a contradiction, whichever of them is right.
"""

import pytest
import sample_tellings as tellings

from ventcalc.draft.held_pressure import TOLERANCE
from ventcalc.job import job_control, study
from ventcalc.job.remedy import AS_DRAWN

pytestmark = pytest.mark.slow  # whole studies

SOLVED = 0.01  # Pa; pressures are solved to a thousandth
IN_PIECES = 0.3  # Pa; gas cools along a section in one step or in two
WATER = frozenset({"wet", "ice", "ice_at_terminal"})  # findings of it
HELD = 2.0 * TOLERANCE + SOLVED  # Pa between two vents that are held at one set point


def some(ordinary: tuple[int, ...], of: int = 50):
    """Numbers of random jobs: a few of an ordinary slow run, `pytest -m sweep` takes the others."""
    return [n if n in ordinary else pytest.param(n, marks=pytest.mark.sweep) for n in range(of)]


def codes(found: study.Study, without: frozenset[str] = frozenset()) -> list[str]:
    return sorted(f.code for f in found.judgement.findings if f.code not in without)


def pressures(found: study.Study) -> list[float]:
    """Ends of all outlets and of the header [Pa], in no order of the file."""
    return [p for e in sorted((e.low, e.high) for e in found.envelopes) for p in e] + [*found.header]


@pytest.mark.parametrize("name", some((3, 8, 14)))
def test_a_job_told_otherwise_is_judged_alike(name):
    told = tellings.furnished(name)
    one = study.study(tellings.job_of(told), compare=False)
    for way in (tellings.reordered, tellings.renamed, tellings.in_si, tellings.with_a_place):
        other = study.study(tellings.job_of(way(told)), compare=False)
        assert codes(other) == codes(one), way.__name__
        assert [len(f.subjects) for f in other.judgement.findings] == [len(f.subjects) for f in one.judgement.findings]
        assert pressures(other) == pytest.approx(pressures(one), abs=SOLVED), way.__name__


@pytest.mark.parametrize("name", some((2, 8, 14)))
def test_a_section_drawn_in_two_pieces_is_one(name):
    """Where water and ice are found is told piece by piece; so a vent may be wet in a piece, and on the whole not."""
    told = tellings.furnished(name)
    one, two = (study.study(tellings.job_of(t), compare=False) for t in (told, tellings.in_pieces(told)))
    assert codes(two, WATER) == codes(one, WATER)
    assert pressures(two) == pytest.approx(pressures(one), abs=IN_PIECES)


@pytest.mark.parametrize("name", some((8, 20, 49)))
def test_a_section_in_two_pieces_has_the_same_remedies(name):
    """The same kinds, verdicts and figures; not where water alone, told piece by piece, is against it."""
    told = tellings.furnished(name)
    one, two = (study.study(tellings.job_of(t)) for t in (told, tellings.in_pieces(told)))
    assert {o.remedy.kind for o in two.outcomes} == {o.remedy.kind for o in one.outcomes}
    if {f.code for s in (one, two) for f in s.judgement.against}.isdisjoint(WATER):
        assert two.buildable == one.buildable
    others = {o.remedy.name: o for o in two.outcomes}
    for o in one.outcomes:
        other = others.get(o.remedy.name)  # another set point is named where it is 1 Pa away
        if other is None:
            continue
        if WATER.isdisjoint(f.code for each in (o, other) if each.judgement for f in each.judgement.against):
            assert other.cured == o.cured, o.remedy.name
        if other.everywhere == o.everywhere and not (o.unsettled or other.unsettled):
            assert other.margin == pytest.approx(o.margin, abs=IN_PIECES), o.remedy.name


@pytest.mark.parametrize("name", some((4,)))
def test_a_vent_written_into_the_file_is_the_remedy_of_that_vent(name):
    told = tellings.furnished(name)
    for o in study.study(tellings.job_of(told)).outcomes:
        if o.remedy.controls or o.remedy.kind == AS_DRAWN:
            continue
        drawn = study.study(tellings.job_of(tellings.with_vent(told, o.remedy.plant)), compare=False)
        assert drawn.buildable == o.cured, o.remedy.name
        if o.everywhere:
            assert drawn.outcome.margin == pytest.approx(o.margin, abs=HELD), o.remedy.name
        if o.judgement is not None:
            assert codes(drawn) == sorted(f.code for f in o.judgement.findings), o.remedy.name


@pytest.mark.parametrize("name", some((4,)))
def test_a_remedy_that_the_file_offers_is_the_one_compared(name):
    told = tellings.furnished(name)
    for o in study.study(tellings.job_of(told)).outcomes:
        if o.remedy.kind not in job_control.WITH_DEVICES:
            continue
        offered = study.study(tellings.job_of(tellings.with_remedy(told, o.remedy)), compare=False).offered
        assert offered.buildable == o.cured, o.remedy.name
        if o.everywhere:
            assert offered.outcome.margin == pytest.approx(o.margin, abs=HELD), o.remedy.name
        if o.cured:
            assert codes(offered) == sorted(f.code for f in o.judgement.findings), o.remedy.name


@pytest.mark.parametrize("name", some((8,)))
def test_a_cell_of_the_matrix_is_the_study_with_that_make_specified(name):
    """A remedy that the file offers, held at one set point; dampers at the outlets hold the middle of the specified
    make's window, and no file says that of another."""
    told = tellings.content(name)
    low, high = (float(w.split()[0]) for w in told["appliance"][0]["window"])
    makes = {"wide": (1.6 * low, 1.3 * high + 0.02 * (high > 0.0)), "narrow": (0.7 * low, 0.8 * high)}
    told["alternate"] = [
        {"name": make, "appliances": [told["appliance"][k]["name"]], "window": [f"{p!r} inH2O" for p in window]}
        for k, (make, window) in zip((0, -1), makes.items(), strict=True)
    ]
    found = study.study(tellings.job_of(told))
    outcomes = {o.remedy.name: o for o in (*found.outcomes, found.outcome)}
    for row in found.options:
        remedy = outcomes[row.remedy].remedy
        if remedy.kind != AS_DRAWN and remedy.kind not in ("fan", "damper", "fan and damper"):
            continue
        for cell in row.cells[1:]:
            file = tellings.with_make(told, cell.make)
            file = file if remedy.kind == AS_DRAWN else tellings.with_remedy(file, remedy)
            there = study.study(tellings.job_of(file), compare=False)
            there = there if remedy.kind == AS_DRAWN else there.offered
            assert cell.cured == there.buildable, (row.remedy, cell.make)
            if cell.everywhere:
                assert cell.margin == pytest.approx(there.outcome.margin, abs=HELD), (row.remedy, cell.make)
