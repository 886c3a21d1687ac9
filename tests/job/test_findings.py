"""Findings: one table of codes, records that stay data, and sentences made of them in either unit system."""

import re
import string

import pytest

from ventcalc.job import findings
from ventcalc.job.findings import Finding
from ventcalc.units import Q_


class Place:
    """A figure that makes its own words."""

    def words(self, system):
        return f"somewhere in {system}"


SAMPLE = {"people": "spillage_in_time", "fault": "run_too_long", "note": "permission_open"}


def figures_of(code: findings.Code) -> dict[str, str]:
    """Every figure that a code's texts tell, with how it is shown."""
    texts = [code.sentence, *(text for _, text in code.clauses)]
    return {name: kind for text in texts for _, name, kind, _ in string.Formatter().parse(text) if name}


def filled(code: findings.Code) -> Finding:
    """A finding of a code with a figure of a fitting kind for everything it tells."""
    units = {"draft": "Pa", "mass flow": "kg/s", "mass": "kg", "time": "s", "height": "m", "diameter": "m",
             "wind": "m/s", "wind at roof height": "m/s", "temperature": "K", "temperature difference": "delta_degC",
             "heat rate": "W", "condensate": "kg/s", "water": "m**3", "condensate a day": "kg/s",
             "ratio": ""}  # fmt: skip
    figures = {
        name: Place() if not kind else Q_(12.0, units[kind]) if kind in units else 12.0
        for name, kind in figures_of(code).items()
    }
    figures |= {clause: figures.get(clause, True) for clause, _ in code.clauses}
    return Finding(code.name, ("Boiler 1", "Boiler 2"), {k: v for k, v in figures.items() if k != "subjects"})


def test_the_gravest_come_first_and_else_in_their_order():
    found = [
        Finding(SAMPLE[w], (name,)) for w, name in (("note", "a"), ("fault", "b"), ("people", "c"), ("fault", "d"))
    ]
    assert [f.subjects[0] for f in findings.judgement(found).findings] == ["c", "b", "d", "a"]


@pytest.mark.parametrize(
    ("weights", "cured"), [((), True), (("note",), True), (("fault",), False), (("people",), False)]
)
def test_cured_is_that_nothing_of_weight_people_or_fault_was_found(weights, cured):
    judged = findings.judgement(Finding(SAMPLE[w]) for w in weights)
    assert judged.cured is cured and bool(judged.against) is not cured
    assert all(judged.of_weight(w) for w in weights)


@pytest.mark.parametrize("name", findings.table())
def test_every_code_can_be_told_in_both_systems(name):
    code = findings.table()[name]
    us, si = (findings.sentence(filled(code), system) for system in ("US", "SI"))
    assert "{" not in us + si and ".." not in us + si
    assert us.endswith(".") or code.sentence.endswith("}")  # what another module says ends with its own full stop
    assert not re.search(r"in\. w\.c\.|°F|\blb\b|\bft\b", si)
    assert code.title and (code.todo or code.weight == "note")


@pytest.mark.parametrize("name", findings.table())
def test_a_clause_is_told_only_where_its_figure_is(name):
    code = findings.table()[name]
    whole = filled(code)
    for clause, text in code.clauses:
        if clause in {n for n in figures_of(code) if f"{{{n}" in code.sentence}:
            continue
        without = Finding(name, whole.subjects, {**whole.figures, clause: 0})
        missing = max((part for part, *_ in string.Formatter().parse(text)), key=len).strip()
        assert missing in findings.sentence(whole) and missing not in findings.sentence(without)


def test_a_finding_that_lacks_a_figure_is_no_sentence():
    with pytest.raises(KeyError, match="allowed"):
        findings.sentence(Finding("run_too_long", ("Boiler",), {"run": Q_(30.0, "m")}))


def test_a_code_that_the_table_lacks_is_refused():
    with pytest.raises(KeyError, match="unheard_of"):
        Finding("unheard_of").weight  # noqa: B018


def test_beside_the_vent_are_the_room_s_air_and_the_place_where_it_ends():
    """What another pipe, fan or damper mends is of the vent; gas in the room is, whatever lets it in."""
    beside = {name for name, code in findings.table().items() if code.beside}
    assert beside == {
        "no_air",
        "air_detail",
        "terminal",
        "terminal_opening",
        "terminal_seen",
        "intake_harm",
        "intake_guideline",
    }
    spills, air = findings.Finding("spillage"), findings.Finding("no_air")
    note = findings.Finding("house_limit")
    for found, only in (((), False), ((note,), False), ((air,), True), ((air, note), True), ((air, spills), False)):
        assert findings.judgement(found).only_beside is only
