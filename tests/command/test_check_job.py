"""The check command: every fault of a file at once, and the drawing of what it tells."""

import pytest

from ventcalc import tables
from ventcalc.__main__ import main

LAUNDRY = tables.DATA / "jobs" / "laundry.toml"


def test_a_good_file_tells_what_was_taken_for_granted_and_is_drawn(tmp_path, capsys):
    assert main(["check", str(LAUNDRY), "--out", str(tmp_path / "vent.svg")]) == 0
    told = capsys.readouterr().out
    assert "Laundry: 1 appliance, 3 sections" in told and "taken: control.hours" in told
    assert (tmp_path / "vent.svg").read_text(encoding="utf-8").lstrip().startswith("<?xml")


def test_every_fault_of_a_broken_file_is_told(tmp_path, capsys):
    text = LAUNDRY.read_text(encoding="utf-8")
    for right, wrong in (("altitude", "altitud"), ('"5 degF"', '"5"'), ('length = "92 ft"', 'length = "92 lb"')):
        text = text.replace(right, wrong, 1)
    (tmp_path / "bad.toml").write_text(text, encoding="utf-8")
    assert main(["check", str(tmp_path / "bad.toml")]) == 2
    told = capsys.readouterr().err
    assert all(word in told for word in ("altitude", "unit is missing", "92.0 lb"))


def test_what_may_be_a_slip_is_told_and_the_file_is_good_all_the_same(tmp_path, capsys):
    text = LAUNDRY.read_text(encoding="utf-8").replace('outlet_height = "4 ft"', 'outlet_height = "104 ft"')
    (tmp_path / "odd.toml").write_text(text, encoding="utf-8")
    assert main(["check", str(tmp_path / "odd.toml")]) == 0
    assert "look again: appliance " in (told := capsys.readouterr().out) and "outlet_height = 104 ft" in told
    assert main(["check", str(LAUNDRY)]) == 0 and "look again" not in capsys.readouterr().out


@pytest.mark.parametrize("path", ["none.toml", "."])
def test_what_is_no_file_is_refused(path, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert main(["check", path]) == 2
    assert "cannot be" in capsys.readouterr().err


def test_a_drawing_that_cannot_be_written_is_said(tmp_path, capsys):
    assert main(["check", str(LAUNDRY), "--out", str(tmp_path / "none" / "vent.svg")]) == 2
    assert "cannot be written" in capsys.readouterr().err
