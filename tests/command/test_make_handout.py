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


def test_a_class_set_and_its_key_are_written(tmp_path, capsys):
    assert main(["handout", "06", "--people", "2", "--units", "SI", "--out", str(tmp_path)]) == 0
    told = capsys.readouterr().out
    assert "Class set:" in told and "Key:" in told
    assert sorted(p.name for p in tmp_path.iterdir()) == ["06_stack_effect_class.html", "06_stack_effect_key.html"]


def test_a_page_without_exercises_or_a_class_of_none_is_refused_in_words(tmp_path, capsys):
    assert main(["handout", "00_contents", "--people", "2", "--out", str(tmp_path)]) == 2
    assert "has no exercises" in capsys.readouterr().err
    assert main(["handout", "06", "--people", "0", "--out", str(tmp_path)]) == 2
    assert "give 1 to" in capsys.readouterr().err
