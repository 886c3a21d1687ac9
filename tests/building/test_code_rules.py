"""Code rules: figures of the tables of rules beside the rows that were read, and where they stand."""

from pathlib import Path

import pytest

from ventcalc import building, tables, words
from ventcalc.building.code_rules import (
    CHECK_EDITION,
    FAIL,
    NONE,
    PASS,
    READING,
    VERDICTS,
    cited,
    figure,
    names_in,
    plain,
)
from ventcalc.words import Remark

ROWS = {row["id"]: row for row in tables.read("combustion_air_checks")}


def test_rules_agree_with_the_published_rows():
    # Two tables hold each rule: the one used at run time, and the rows that were read.
    same = {"A001": "standard volume", "A002": "known infiltration, other", "A003": "known infiltration, fan",
            "A004": "most infiltration", "A051": "two openings, direct or vertical", "A052": "two openings, horizontal",
            "A053": "one opening", "A054": "indoors, same story", "A055": "indoors, other story",
            "A056": "mechanical supply", "A057": "metal louver", "A058": "wood louver", "A059": "smallest dimension",
            "R006": "limit, water heater alone", "R007": "limit, natural draft shared",
            "R008": "limit, natural draft alone", "R009": "limit, fan alone", "R010": "limit, sealed"}  # fmt: skip
    for key, rule in same.items():
        row = tables.row("combustion_air", rule, "rule")
        assert float(row["value"]) == float(ROWS[key]["value"]) and row["unit"] == ROWS[key]["unit"]
        assert row["status"].split(":")[0] == ROWS[key]["status"].split(":")[0]


def test_limits_of_air_are_those_of_the_rows():
    rows = {row["id"]: row for row in tables.read("re_entrainment_checks")}
    limit = figure("re_entrainment", "NO2, 1 h")
    assert 1e3 * limit.m_as("ppm") == pytest.approx(float(rows["RE31"]["value"]))  # in ppb there
    assert figure("re_entrainment", "CO, 1 h").m_as("ppm") == pytest.approx(float(rows["RE32"]["value"]))


@pytest.mark.parametrize("table", ["combustion_air", "re_entrainment"])
def test_every_figure_of_a_table_can_be_read_and_says_where_it_stands(table):
    for row in tables.read(table):
        said = cited(table, row["rule"])
        assert row["source"] in said and row["edition"] in said and CHECK_EDITION in said
        assert ("from memory" in said.removeprefix(row["source"])) == row["status"].startswith("from memory")
        if row["value"].replace(".", "").replace("-", "").isdigit():
            assert figure(table, row["rule"]).m == float(row["value"])


def test_a_figure_as_a_plain_number():
    # 4000 Btu/h are served by 1 in2; 1 Btu/h = 0.293071 W, 1 in2 = 6.4516 cm2.
    ours = plain("combustion_air", "two openings, direct or vertical", "W/m**2")
    assert ours == pytest.approx(4000 * 0.293071 / 6.4516e-4, rel=1e-5)


def test_an_unknown_rule_is_refused_by_name():
    with pytest.raises(ValueError, match="'no such rule'"):
        figure("combustion_air", "no such rule")


def test_names_of_a_cell():
    assert names_in("chimney; type L vent ;") == ("chimney", "type L vent") and names_in("") == ()


def test_a_reason_is_told_from_its_figures():
    reason = Remark("building", "house_limit", "kind", {"kind": "forced"})
    assert reason.words("SI") == reason.words() and "forced" in reason.words()
    with pytest.raises(KeyError):
        Remark("building", "house_limit", "kind").words()


def test_verdicts_stand_with_the_worst_first():
    assert VERDICTS == (FAIL, READING, PASS, NONE)


def test_every_sentence_of_the_part_is_told_somewhere():
    """By its name, in quotation marks, in the code of the part, or as a form of the table of clearances."""
    code = "".join(path.read_text(encoding="utf-8") for path in Path(building.__path__[0]).glob("*.py"))
    names = {name for told in words.sentences("building").values() for name in told}
    assert {name for name in names if f'"{name}"' not in code} == set()
