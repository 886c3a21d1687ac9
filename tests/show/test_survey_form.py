"""Survey form: the blank asks for the plan and can be read back filled; the page tells cautions and every reading."""

import csv
import io
import re
import shutil
from functools import cache

import pytest
from sample_studies import JOBS

from ventcalc.job import job_file, survey_file, survey_plan
from ventcalc.show import printing, spreadsheet, survey_form
from ventcalc.units import SYSTEMS

READ = {"in. w.c.": "-0.021", "Pa": "-5.2", "°F": "131", "°C": "55", "%": "5.5"}


@cache
def planned(name="swim_hall"):
    return survey_plan.plan(job_file.load(JOBS[name]))


def filled(plan, system):
    """The blank as someone fills it in: the weather once, a number for every unit."""
    header, *rows = csv.reader(io.StringIO(spreadsheet.csv_text(survey_form.blank(plan, system)), newline=""))
    for k, row in enumerate(rows):
        row[header.index("value")] = READ[row[header.index("unit")]]
        if not k:
            row[header.index("outdoors")], row[header.index("room")] = "41 °F", "72 °F"
    out = io.StringIO(newline="")
    csv.writer(out).writerows([header, *rows])
    return out.getvalue()


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("name", ["swim_hall", "school", "laundry"])
def test_the_blank_filled_in_is_read_as_what_was_planned(name, system):
    plan = planned(name)
    taken = survey_file.read(filled(plan, system).encode(), plan.job)
    asked = [(s.condition.levels, s.condition.cold, *reading) for s in plan.steps for reading in s.readings]
    told = [(r.condition.levels, r.condition.cold, r.place, r.quantity) for r in taken.survey.readings]
    assert told == asked
    # The same number of both systems: -0.021 in. w.c. is -5.2 Pa, 131 degF is 55 degC.
    values = {r.quantity: r.value for r in taken.survey.readings}
    assert values["pressure"] == pytest.approx(-5.2, abs=0.05) and values["O2"] == pytest.approx(0.055)
    assert values["gas temperature"] == pytest.approx(328.15, abs=0.01)


@pytest.mark.parametrize("system", SYSTEMS)
def test_the_page_tells_it_all_in_one_system(system):
    plan = planned()
    text = survey_form.html(survey_form.records(plan, system))
    plain = re.sub(r"<style>.*?</style>", "", text, flags=re.DOTALL)
    assert all(sign not in plain for sign in (("in. w.c.", "°F") if system == "SI" else (" Pa", "°C")))
    assert plain.count('scope="row">P') == len(plan.taps)
    assert plain.count("<tr><td>") == sum(len(s.readings) for s in plan.steps)
    for words in (
        "carbon monoxide alarm",
        "spills is shut down first",
        "Nobody stands in flue gas",
        "negative is draft",
    ):
        assert words in plain
    assert "src=" not in plain and "<script" not in plain and "None" not in plain and "nan" not in plain


def test_what_is_not_to_be_brought_about_is_named():
    text = survey_form.html(survey_form.records(planned("masonry_retrofit"), "US"))
    assert "Not to be brought about:</b> Water heater alone at on" in text
    assert "Not to be brought about" not in survey_form.html(survey_form.records(planned(), "US"))


def test_both_are_written_whole(tmp_path):
    survey_form.write(planned(), tmp_path / "form.html", "SI")
    survey_form.write_blank(planned(), tmp_path / "blank.csv", "SI")
    assert "Swimming hall" in (tmp_path / "form.html").read_text(encoding="utf-8")
    assert (tmp_path / "blank.csv").read_text(encoding="utf-8").startswith("Boiler 1 at,")
    with pytest.raises(OSError):
        survey_form.write(planned(), tmp_path / "nowhere" / "form.html", "SI")


@pytest.mark.slow
@pytest.mark.skipif(shutil.which("chromium") is None, reason="no Chromium to print with")
@pytest.mark.parametrize("system", SYSTEMS)
def test_it_prints_on_two_pages(system, tmp_path):
    assert printing.print_pdf(survey_form.html(survey_form.records(planned(), system)), tmp_path / "form.pdf")
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", (tmp_path / "form.pdf").read_bytes())) <= 2
