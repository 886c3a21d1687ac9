"""The handout command: what it refuses, and in which words."""

from ventcalc.__main__ import main


def test_an_unknown_chapter_is_refused_in_words(tmp_path, capsys):
    assert main(["handout", "99_nothing", "--to", "html", "--out", str(tmp_path)]) == 2
    told = capsys.readouterr()
    assert "99_nothing" in told.err and told.out == "" and not list(tmp_path.iterdir())


def test_a_folder_that_is_a_file_is_refused(tmp_path, capsys):
    (tmp_path / "out").write_text("mine")
    assert main(["handout", "01", "--to", "html", "--out", str(tmp_path / "out")]) == 2
    assert "choose another --out" in capsys.readouterr().err and (tmp_path / "out").read_text() == "mine"
