"""Whole file: the old text or the new one, whatever goes wrong on the way."""

from pathlib import Path

import pytest

from ventcalc.show import whole_file


def test_a_file_is_written_and_written_over_byte_for_byte(tmp_path):
    path = tmp_path / "a file.csv"
    for text in ("one\r\n", "two \u00b5\n"):
        whole_file.write(path, text)
        assert path.read_bytes() == text.encode()
    assert [p.name for p in tmp_path.iterdir()] == ["a file.csv"]


def test_what_fails_on_the_way_leaves_the_old_text_and_nothing_beside_it(tmp_path, monkeypatch):
    path = tmp_path / "page.html"
    path.write_text("old", encoding="utf-8")

    def full(*_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(OSError, match="No space"):
        whole_file.write(path, "new")
    assert path.read_text(encoding="utf-8") == "old" and list(tmp_path.iterdir()) == [path]
