"""The year on the page and on the screen: the figures of results.json and no other; only where it was asked for."""

import json

import pytest
from sample_reports import Page, html, kept
from sample_studies import JOBS, studied

from ventcalc.__main__ import main
from ventcalc.building import climate
from ventcalc.job import year_compared
from ventcalc.show import report

WEEKS = climate.typical_year("cold")[: 14 * 24]


@pytest.fixture(scope="module", params=["laundry", "lodge"])
def written(request, tmp_path_factory):
    """A report with two weeks of winter: the laundry's own design fails in them, the lodge's remedy does not."""
    found = studied(request.param)
    years = year_compared.compared(found, WEEKS)
    done = report.write(found, tmp_path_factory.mktemp("year") / "out", "US", years=years)
    told = json.loads(done.numbers.read_text(encoding="utf-8"))["year"]
    return request.param, told, done.page.read_text(encoding="utf-8")


@pytest.mark.slow
def test_the_page_tells_the_year_of_the_design_reported_on(written):
    name, told, page = written
    read = Page(page)
    assert not read.faults and not read.open and page.count('id="year"') == 1
    front = page[: page.index("</header>")]
    assert told["totals"]["outside"]["shown"] in front and told["totals"]["spill"]["shown"] in front
    assert told["design"] == studied(name).reported.outcome.remedy.name == told["compared"]["designs"][0]
    for sentence in (*told["words"], told["basis"], *told["cautions"]):
        assert sentence in read.text
    for row in told["compared"]["totals"]:
        assert row["title"] in read.text and all(cell["shown"] in page for cell in row["cells"])
    for f in told["failures"]:
        assert f["title"] in read.text and f["when"] in read.text


@pytest.mark.slow
def test_there_are_pictures_where_something_goes_wrong(written):
    name, told, page = written
    wrong = told["totals"]["outside"]["value"] > 0.0 or told["totals"]["spill"]["value"] > 0.0
    assert wrong == (name == "laundry")
    assert (page.count("Every hour of the year, by day") > 0) == wrong


def test_without_being_asked_there_is_none():
    assert kept("laundry")["year"] is None and 'id="year"' not in html("laundry")


@pytest.mark.slow
def test_the_screen_says_what_the_numbers_say(tmp_path, capsys):
    main(["study", str(JOBS["laundry"]), "--out", str(tmp_path / "out"), "--year"])
    said = capsys.readouterr().out
    told = json.loads((tmp_path / "out" / "results.json").read_text(encoding="utf-8"))["year"]
    assert all(sentence in said for sentence in told["words"]) and told["weather"]["invented"]
    assert "8,760 hours" in told["basis"]


def test_a_weather_file_that_cannot_be_read_is_told_before_anything_is_solved(tmp_path, capsys):
    (tmp_path / "no.epw").write_text("LOCATION,Nowhere\n", encoding="utf-8")
    for name in ("no.epw", "missing.epw"):
        asked = ["study", str(JOBS["laundry"]), "--out", str(tmp_path / "out"), "--year", str(tmp_path / name)]
        assert main(asked) == 2 and name in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_of_several_jobs_none_is_asked_for(capsys):
    assert main(["study", str(JOBS["laundry"]), str(JOBS["lodge"]), "--out", "x", "--year"]) == 2
    assert "--year" in capsys.readouterr().err
