"""Sources: the gathered table says all that the plain one says, once."""

import re
from html import escape

from ventcalc import checked, tables
from ventcalc.handbook import atmosphere, combustion, condensation
from ventcalc.show.sources import by_source, case


def cells(html):
    return re.findall(r"<td[^>]*>(.*?)</td>", html)


def test_every_row_with_its_numbers_is_there():
    checks = combustion.checks()
    plain, gathered = checked.html(checks), by_source(checks)
    rows = [cells(r)[:7] for r in re.findall(r"<tr>(.*?)</tr>", plain) if cells(r)]
    found = [cells(r)[:7] for r in re.findall(r"<tr[^>]*>(.*?)</tr>", gathered) if cells(r)]
    assert sorted(found) == sorted(rows) and len(rows) == len(checks)


def test_source_status_and_remark_are_said_once():
    checks = atmosphere.checks()
    gathered = by_source(checks)
    for source in {c.source for c in checks}:
        assert gathered.count(f"<b>{escape(source)}</b>") == len({c.status for c in checks if c.source == source})
    for c in checks:
        assert escape(c.status) in gathered
        if c.remark:
            item = next(i for i in re.findall(r"<li>(.*?)</li>", gathered) if i.endswith(": " + escape(c.remark)))
            assert c.id in item.partition(":")[0].split(", ")


def test_verdicts():
    checks = condensation.checks() + combustion.checks()
    verdicts = {r[0]: r[7] for r in (cells(t) for t in re.findall(r"<tr[^>]*>(.*?)</tr>", by_source(checks))) if r}
    for c in checks:
        expected = "to the last digit" if c.to_the_last_digit else "within tolerance" if c.agrees else "misses"
        assert verdicts[c.id] == expected


def test_the_case_of_a_row():
    assert case(tables.row("atmosphere_checks", "S001")) == "altitude -1000 ft"
    assert case(tables.row("atmosphere_checks", "S071")) == "pressure 1 psia"
    assert case(tables.row("combustion_checks", "C060")) == (
        "natural gas, o2 dry 2.0 %, excess air 9.5 %, net stack temp 200 °F"
    )
    assert case(tables.row("gas_radiation_checks", "GR01")) == "temperature 790 K, co2 0.01136 atm·m"
    assert case(tables.row("wall_condensation_checks", "WD018")).endswith("velocity 10 m/s, size 0.1 m")
    assert case(tables.row("condensation_checks", "M001")) == "water 93.44 mmHg, so3 0.0024917 mmHg"


def test_cases_stand_in_their_rows():
    checks = atmosphere.checks()
    rows = [cells(r) for r in re.findall(r"<tr[^>]*>(.*?)</tr>", by_source(checks, "atmosphere_checks")) if cells(r)]
    assert {r[0]: r[2] for r in rows} == {r["id"]: case(r) for r in tables.read("atmosphere_checks")}
    assert all(len(r) == 9 for r in rows)


def test_one_row_is_not_rows():
    assert "; 1 row<" in by_source(condensation.checks()[-1:]) and "; 8 rows<" in by_source(condensation.checks()[:8])


def test_every_number_of_a_case_says_what_it_is():
    rows = {row["id"]: case(row) for row in tables.read("draft_checks")}
    assert rows["D001"] == "height 100 ft, pressure 14.7 psia, ambient 60 °F, gas 500 °F"
    assert rows["D182"] == "barometer 101325 Pa, height 35 m, ambient 288 K, gas 1253 K"
    assert "horsepower 500" in rows["D040"] and "steel" in rows["D040"]
