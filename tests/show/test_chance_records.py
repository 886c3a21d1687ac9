"""Chance records: the figures of the chance on page one, in the report and on the screen; only where asked for."""

import contextlib
import io
import json

import pytest
from sample_reports import kept
from sample_studies import JOBS

from ventcalc.__main__ import main
from ventcalc.job import chance
from ventcalc.show import chance_records

DRAWS = 64


@pytest.fixture(scope="module")
def asked(tmp_path_factory):
    """The laundry's folder, and what the screen said, with a chance."""
    out, said = tmp_path_factory.mktemp("chance") / "out", io.StringIO()
    with contextlib.redirect_stdout(said):
        main(["study", str(JOBS["laundry"]), "--out", str(out), "--units", "US", "--chance", str(DRAWS)])
    return out, said.getvalue()


@pytest.mark.slow
def test_the_chance_stands_on_page_one_in_the_appendix_and_on_the_screen(asked):
    out, said = asked
    told = json.loads((out / "results.json").read_text(encoding="utf-8"))["chance"]
    page = (out / "report.html").read_text(encoding="utf-8")
    front = page[: page.index("</header>")]
    assert told["draws"] == DRAWS and told["window"]["shown"] in front and told["flue_gas"]["shown"] in front
    assert page.count('id="chance"') == 1 and told["words"][0] in said and told["words"][1] in said
    assert all(o["leaves"]["shown"] in page for o in told["outlets"]) and len(told["sources"]) > 5
    for share in (told["window"], told["flue_gas"], *(o["leaves"] for o in told["outlets"])):
        assert 0.0 <= share["low"] <= share["chance"] <= share["high"] <= 1.0 and share["high"] > share["low"]
    assert told["window"]["chance"] >= max(o["leaves"]["chance"] for o in told["outlets"])


@pytest.mark.slow
def test_without_being_asked_there_is_none():
    assert kept("laundry")["chance"] is None


def test_a_share_is_told_with_where_it_may_lie():
    """16 of 64 by Wilson's score at 95 % (Wilson 1927; by hand): 0.160 to 0.368."""
    told = chance_records._share(chance.Share(16, 64))
    assert told["shown"] == "25.0% (16.0% to 36.8%)"
    assert chance_records._share(chance.Share(0, 1024))["shown"] == "less than 0.4%"
    assert chance_records._share(chance.Share(64, 64))["shown"] == "more than 94.3%"


@pytest.mark.parametrize("draws", ["0", "100", "32", "many"])
def test_a_count_that_is_no_power_of_two_is_refused(draws, capsys):
    with pytest.raises(SystemExit) as refused:
        main(["study", str(JOBS["laundry"]), "--out", "x", "--chance", draws])
    assert refused.value.code == 2 and "--chance" in capsys.readouterr().err


def test_of_several_jobs_none_is_asked_for(capsys):
    assert main(["study", str(JOBS["laundry"]), str(JOBS["lodge"]), "--out", "x", "--chance"]) == 2
    assert "one JOB" in capsys.readouterr().err
