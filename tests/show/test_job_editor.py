"""Job editor: boxes change the file, problems stand beside their fields, saving is whole and never on a demo."""

import html

import pytest

from ventcalc import tables
from ventcalc.job import edited_job, job_file, study
from ventcalc.show import finding_records, job_editor
from ventcalc.show.job_editor import JobEditor

ALTITUDE = ("site", "altitude")
TEXTS = job_editor.demo_jobs()


@pytest.fixture
def lodge():
    return JobEditor("lodge")


@pytest.mark.slow
def test_every_job_of_the_list_opens_well():
    editor = JobEditor("lodge")
    for name in TEXTS:
        editor.job.value = name
        assert editor.text == TEXTS[name] and "Reads well" in editor.problems.value
        assert editor.name.value.startswith("my_") and not editor.ask.disabled


@pytest.mark.slow
def test_every_field_has_its_box_and_its_meaning(lodge):
    fields = {f.path: f for f in edited_job.fields(lodge.document)}
    assert {path: box.value for path, (box, _) in lodge.boxes.items()} == {p: f.text for p, f in fields.items()}
    assert all(box.tooltip == fields[path].meaning for path, (box, _) in lodge.boxes.items())


def test_a_problem_stands_beside_its_field_and_vanishes(lodge):
    box, said = lodge.boxes[ALTITUDE]
    before = lodge.picture.value
    box.value = "2400"
    assert "unit" in said.value and said.layout.display is None and lodge.ask.disabled
    assert "Reads well" not in lodge.problems.value
    assert [p for p, (_, s) in lodge.boxes.items() if s.value] == [ALTITUDE]
    box.value = "2400 m"
    assert said.value == "" and said.layout.display == "none" and "Reads well" in lodge.problems.value
    assert lodge.picture.value == before and lodge.text == TEXTS["lodge"]


def test_what_the_file_may_not_mean_is_told_and_may_be_studied(lodge):
    box, before = lodge.boxes[("season", 2, "outdoor")][0], lodge.text
    value = box.value
    box.value = "12 degC"
    assert "Reads well" not in lodge.problems.value and "outdoor = 12 °C" in lodge.problems.value
    assert "Not yet" not in lodge.problems.value and not lodge.ask.disabled
    box.value = value
    assert "Reads well" in lodge.problems.value and lodge.text == before


@pytest.mark.slow
def test_the_drawing_follows(lodge):
    before = lodge.picture.value
    for name in ("length", "rise"):
        lodge.boxes[("section", 5, name)][0].value = "9 m"
    assert lodge.picture.value != before


def test_what_is_typed_is_no_html(lodge):
    box, said = lodge.boxes[ALTITUDE]
    box.value = "<img src=x> m"
    assert "<img" not in said.value + lodge.problems.value


@pytest.mark.slow
def test_copying_a_section_gives_it_boxes(lodge):
    lodge.change(edited_job.with_one_more, ("appliance", 1))
    assert ("appliance", 2, "name") in lodge.boxes
    lodge.change(edited_job.without, ("appliance", 2))
    assert lodge.text == TEXTS["lodge"]


def test_what_is_saved_reads_the_same(lodge, tmp_path):
    lodge.boxes[ALTITUDE][0].value = "2500 m"
    lodge.name.value = str(tmp_path / "mine.toml")
    lodge.keep.click()
    written = (tmp_path / "mine.toml").read_text(encoding="utf-8")
    assert written == TEXTS["lodge"].replace('altitude = "2400 m"', 'altitude = "2500 m"')
    assert job_file.load(tmp_path / "mine.toml").plant.altitude.m_as("m") == pytest.approx(2500)
    assert [p.name for p in tmp_path.iterdir()] == ["mine.toml"] and "Saved" in lodge.saved.value


@pytest.mark.slow
def test_a_file_of_somebody_else_is_not_written_over_but_ones_own_is(lodge, tmp_path):
    place = tmp_path / "theirs.toml"
    place.write_text("theirs")
    lodge.name.value = str(place)
    lodge.keep.click()
    assert "is there already" in lodge.saved.value and place.read_text() == "theirs"
    lodge.name.value = str(tmp_path / "mine.toml")
    for altitude in ("2500 m", "2600 m"):
        lodge.boxes[ALTITUDE][0].value = altitude
        lodge.keep.click()
        assert altitude in (tmp_path / "mine.toml").read_text(encoding="utf-8")


@pytest.mark.slow
def test_the_verdict_is_the_one_of_a_study_and_goes_with_the_next_change(lodge, monkeypatch):
    said = []
    found = study.study(job_file.demonstration("lodge"), compare=False)

    def solved(job, told):
        said.append((lodge.verdict.value, job.text))
        return found

    monkeypatch.setattr(job_editor, "study", solved)
    lodge.ask.click()
    assert said == [("solving ...", TEXTS["lodge"])]
    assert finding_records.verdict(found)["sentence"] in html.unescape(lodge.verdict.value)
    against = [f for f in found.judgement.findings if f.weight in ("people", "fault")]
    assert against and lodge.verdict.value.count("<li>") == len(against)
    lodge.boxes[ALTITUDE][0].value = "2500 m"
    assert lodge.verdict.value == ""


@pytest.mark.slow
@pytest.mark.parametrize("name", ["lodge.toml", "another.toml"])
def test_nothing_is_saved_among_the_demo_jobs(lodge, name):
    place = tables.DATA / "jobs" / name
    before = place.read_bytes() if place.exists() else None
    lodge.name.value = str(place)
    lodge.keep.click()
    assert "Not saved" in lodge.saved.value
    assert (place.read_bytes() if place.exists() else None) == before


@pytest.mark.parametrize("name, said", [("mine.txt", "ends in .toml"), ("nowhere/mine.toml", "no folder")])
def test_a_name_that_cannot_be_is_refused(name, said, tmp_path):
    with pytest.raises(ValueError, match=said):
        job_editor.save("", tmp_path / name)


def test_a_page_without_a_kernel_says_how_to_make_it_live(lodge):
    page = lodge._repr_mimebundle_()["text/html"]
    assert "Run All Cells" in page and '<img src="data:image/png;base64,iVBOR' in page
