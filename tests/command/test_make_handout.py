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


def test_slides_are_written_with_notes_and_say_how_to_see_them(tmp_path, capsys):
    assert main(["handout", "01", "--to", "slides", "--units", "SI", "--out", str(tmp_path)]) == 0
    assert "Key N" in capsys.readouterr().out
    assert "<aside data-at=" in (tmp_path / "01_atmosphere_slides.html").read_text(encoding="utf-8")


def test_notes_are_written_on_paper(tmp_path, capsys):
    assert main(["handout", "01", "--to", "notes", "--out", str(tmp_path)]) == 0
    assert "Notes:" in capsys.readouterr().out and (tmp_path / "01_atmosphere_notes.html").is_file()


def test_a_key_is_made_for_the_book_and_for_many(tmp_path, capsys):
    key = tmp_path / "06_stack_effect_key.html"
    assert main(["handout", "06", "--key", "--out", str(tmp_path)]) == 0
    one = key.read_text(encoding="utf-8")
    assert "Prediction:" in one and one.count("<h1>") == 1
    assert main(["handout", "06", "--people", "3", "--key", "--out", str(tmp_path)]) == 0
    many = key.read_text(encoding="utf-8")
    assert many.count("<h1>") == 3 and "key to 3" in many
    assert [p.name for p in tmp_path.iterdir()] == [key.name]
    capsys.readouterr()


def test_sheets_their_key_and_the_plan_are_of_no_chapter(tmp_path, capsys):
    for asked, name in ((["--mistakes"], "mistakes"), (["--mistakes", "--key"], "mistakes_key"), (["--plan"], "plan")):
        assert main(["handout", *asked, "--out", str(tmp_path)]) == 0
        assert (tmp_path / f"{name}.html").is_file()
    assert "Day 2" in capsys.readouterr().out
    assert main(["handout", "06", "--plan", "--out", str(tmp_path)]) == 2
    assert "of no chapter" in capsys.readouterr().err


def test_too_little_is_refused_in_words(tmp_path, capsys):
    for asked, told in (([], "name a CHAPTER"), (["06"], "say what"), (["06", "--to", "html", "--key"], "say what")):
        assert main(["handout", *asked, "--out", str(tmp_path)]) == 2
        assert told in capsys.readouterr().err
    assert not list(tmp_path.iterdir())
