"""Changes: what a revision changed is told, nothing else; what cannot be compared is refused in words."""

import json
import os

import pytest
from sample_reports import kept
from sample_studies import JOBS

from ventcalc.__main__ import main
from ventcalc.show import changes


@pytest.fixture(scope="module")
def revised(tmp_path_factory):
    """The laundry's folder, its window widened and its revision named: (status, results, earlier results' path)."""
    folder = tmp_path_factory.mktemp("since")
    (folder / "old.json").write_text(json.dumps(kept("laundry")), encoding="utf-8")
    text = JOBS["laundry"].read_text(encoding="utf-8")
    text = text.replace('window = ["-0.03 inH2O", "0.40 inH2O"]', 'window = ["-2 inH2O", "4 inH2O"]')
    text = text.replace("[job]\n", '[job]\nrevision = "B"\n')
    (folder / "job.toml").write_text(text, encoding="utf-8")
    out = folder / "out"
    main(["study", str(folder / "job.toml"), "--out", str(out), "--since", str(folder / "old.json"), "--units", "US"])
    return out, json.loads((out / "results.json").read_text(encoding="utf-8"))


def test_nothing_changed_between_two_runs_of_one_file():
    told = changes.changes(kept("laundry"), kept("laundry"))
    assert not any(told[name] for name in ("keys", "figures", "gone", "added")) and changes.sentences(told) == []


@pytest.mark.slow
def test_only_what_was_changed_in_the_file_is_told_and_what_follows_from_it(revised):
    _, found = revised
    told = found["changes"]
    assert {row["what"]: (row["old"], row["new"]) for row in told["keys"]} == {
        "job.revision": (changes.NONE, "B"),
        'appliance "Boiler".window': (
            '["-0.03 inH2O", "0.40 inH2O"]',
            '["-2 inH2O", "4 inH2O"]',
        ),
    }
    old = kept("laundry")
    # The pressures hang on the vent, not on what the maker allows: margins changed, pressures did not.
    assert {row["what"].rpartition(", ")[2] for row in told["figures"] if row["what"].startswith("as drawn")} == {
        "margin"
    }
    gone = {f["title"] for f in old["findings"]} - {f["title"] for f in found["findings"]}
    assert gone and all(any(title in line for line in told["gone"]) for title in gone)


@pytest.mark.slow
def test_the_page_tells_it_once_and_first_of_all_behind_the_papers(revised):
    out, found = revised
    page = (out / "report.html").read_text(encoding="utf-8")
    assert page.count('id="changes"') == 1 and page.index('id="changes"') < page.index('id="appliances"')
    assert all(row["new"].replace('"', "&#34;") in page for row in found["changes"]["keys"])


@pytest.mark.parametrize(
    ("text", "why"),
    [
        (None, "cannot be read"),
        ("", "no results.json"),
        ("[1, 2]", "no results.json"),
        ('{"schema": 1}', "no results.json"),
        ("other", "results of the job"),
        ("schema", "schema 9"),
    ],
)
def test_what_cannot_be_compared_is_refused_before_anything_is_solved(text, why, tmp_path, capsys):
    path = tmp_path / "old.json"
    found = kept("laundry")
    if text == "other":
        text = json.dumps(found | {"job": found["job"] | {"name": "Another job"}})
    elif text == "schema":
        text = json.dumps(found | {"schema": 9})
    if text is not None:
        path.write_text(text, encoding="utf-8")
    out = tmp_path / "out"
    assert main(["study", str(JOBS["laundry"]), "--out", str(out), "--since", str(path)]) == 2
    assert why in capsys.readouterr().err and not os.path.exists(out)


def test_a_job_that_was_renamed_is_known_by_its_project(tmp_path):
    found = kept("laundry")
    job = found["job"] | {"name": "Before", "document": {"project": "26-031"}}
    path = tmp_path / "old.json"
    path.write_text(json.dumps(found | {"job": job}), encoding="utf-8")
    assert changes.read(path, "After", "26-031")["job"]["name"] == "Before"
    with pytest.raises(changes.Unlike, match="Before"):
        changes.read(path, "After")


def test_several_jobs_are_not_compared(capsys):
    assert main(["study", str(JOBS["laundry"]), str(JOBS["lodge"]), "--out", "x", "--since", "y"]) == 2
    assert "one JOB" in capsys.readouterr().err
