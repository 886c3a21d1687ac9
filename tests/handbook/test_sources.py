"""Sources: the gathered table says all that the plain one says, once."""

import re
from html import escape

from ventcalc import checked
from ventcalc.handbook import atmosphere, combustion, condensation
from ventcalc.handbook.sources import by_source


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
