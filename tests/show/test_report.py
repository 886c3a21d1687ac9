"""The report in its folder: whole or not at all, and nothing of others touched."""

import shutil

import pytest
from sample_studies import STUDIES

from ventcalc.show import page, pictures, printing, report


@pytest.mark.slow
def test_nothing_is_left_of_a_report_that_failed(tmp_path, monkeypatch):
    def fail(*_):
        raise RuntimeError("drawing failed")

    monkeypatch.setattr(page, "html", fail)
    with pytest.raises(RuntimeError):
        report.write(STUDIES["laundry"], tmp_path / "out")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.slow
def test_a_failed_report_leaves_the_earlier_one_whole(tmp_path, monkeypatch):
    report.write(STUDIES["laundry"], tmp_path / "out")
    before = {p.name: p.read_bytes() for p in (tmp_path / "out").iterdir()}
    monkeypatch.setattr(pictures, "figures", lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        report.write(STUDIES["lodge"], tmp_path / "out")
    assert {p.name: p.read_bytes() for p in (tmp_path / "out").iterdir()} == before
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


@pytest.mark.slow
def test_a_folder_in_use_keeps_other_files_but_no_stale_pdf(tmp_path):
    out = tmp_path / "out"
    out.mkdir()
    (out / "notes.txt").write_text("mine")
    (out / "report.pdf").write_bytes(b"of an earlier study")
    (out / "states_with_remedy.csv").write_bytes(b"of an earlier study")
    written = report.write(STUDIES["laundry"], out)
    assert sorted(p.name for p in out.iterdir()) == [
        "notes.txt", "record_blank.csv", "report.html", "results.json", "states.csv", "vent.dxf", "vent.svg",
    ]  # fmt: skip
    assert written.pdf is None and written.page.is_file() and (out / "notes.txt").read_text() == "mine"


@pytest.mark.slow
def test_folders_on_the_way_are_made_and_a_file_is_refused(tmp_path):
    assert report.write(STUDIES["laundry"], tmp_path / "a" / "b").page == tmp_path / "a" / "b" / "report.html"
    (tmp_path / "file").write_text("x")
    with pytest.raises(NotADirectoryError):
        report.write(STUDIES["laundry"], tmp_path / "file")


@pytest.mark.slow
def test_a_pdf_is_printed_from_the_page_on_paper_where_it_is_wanted(tmp_path, monkeypatch):
    printed = []
    monkeypatch.setattr(
        printing, "print_pdf", lambda html, target: printed.append(html) or target.write_bytes(b"%PDF-")
    )
    assert report.write(STUDIES["laundry"], tmp_path / "out").pdf is None and printed == []
    written = report.write(STUDIES["laundry"], tmp_path / "out", "SI", pdf=True)
    assert written.pdf.read_bytes() == b"%PDF-" and len(printed) == 1 and "size: A4;" in printed[0]
    assert "size:" not in written.page.read_text(encoding="utf-8").partition("@page")[2].partition("margin")[0]


def test_without_a_browser_there_is_no_pdf_and_no_error(tmp_path, monkeypatch):
    monkeypatch.setattr(shutil, "which", lambda _: None)
    assert report.write(STUDIES["laundry"], tmp_path / "out", pdf=True).pdf is None
