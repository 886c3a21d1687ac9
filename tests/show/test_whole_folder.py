"""Whole folders: a set of files is the old one or the new one, whatever happens; other people's files stay."""

import os
import random
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from ventcalc.show import whole_folder

ROOT = Path(__file__).resolve().parents[2]
OWN = tuple(f"part {k}.txt" for k in range(12))

# Writes set after set of files that belong together, without end.
WRITER = """
import sys
from pathlib import Path
from ventcalc.show import whole_folder
out, own = Path(sys.argv[1]), [f"part {k}.txt" for k in range(12)]
for run in range(1_000_000):
    making = whole_folder.beside(out)
    for name in own:
        (making / name).write_text(str(run))
    whole_folder.put_in_place(making, out, own)
    if making.exists():
        import shutil
        shutil.rmtree(making)
    print(run, flush=True)
"""


def put(out: Path, texts: dict[str, str]) -> None:
    making = whole_folder.beside(out)
    for name, text in texts.items():
        (making / name).write_text(text)
    whole_folder.put_in_place(making, out, OWN)
    shutil.rmtree(making, ignore_errors=True)


def told(out: Path) -> dict[str, str]:
    return {p.name: p.read_text() for p in out.iterdir() if p.is_file()}


def killed(tmp_path: Path, seed: int) -> None:
    """A writer ended at a random instant: what it leaves is one set, and what was there beside it is there."""
    out = tmp_path / f"out {seed}"
    out.mkdir()
    (out / "mine.txt").write_text("mine")
    (out / "photos").mkdir()
    (out / "photos" / "1.txt").write_text("photo")
    arguments = [sys.executable, "-c", WRITER, str(out)]
    with subprocess.Popen(arguments, stdout=subprocess.PIPE, cwd=ROOT) as writer:
        writer.stdout.readline()
        time.sleep(random.Random(seed).uniform(0.0, 0.05))
        writer.send_signal(signal.SIGKILL)
    assert len({(out / name).read_text() for name in OWN}) == 1
    assert (out / "mine.txt").read_text() == "mine" and (out / "photos" / "1.txt").read_text() == "photo"


@pytest.mark.parametrize("seed", range(6))
def test_a_kill_at_any_instant_leaves_one_set(seed, tmp_path):
    killed(tmp_path, seed)


@pytest.mark.sweep
@pytest.mark.parametrize("seed", range(6, 50))
def test_a_kill_at_more_instants_leaves_one_set(seed, tmp_path):
    killed(tmp_path, seed)


def test_two_writers_into_one_folder_leave_the_set_of_one(tmp_path):
    out = tmp_path / "out"
    put(out, dict.fromkeys(OWN, "first"))
    one, other = (whole_folder.beside(out) for _ in range(2))
    for making, text in ((one, "one"), (other, "other")):
        for name in OWN:
            (making / name).write_text(text)
    whole_folder.put_in_place(one, out, OWN)
    whole_folder.put_in_place(other, out, OWN)
    assert set(told(out).values()) == {"other"}


def test_what_only_an_earlier_set_had_is_taken_away(tmp_path):
    out = tmp_path / "out"
    put(out, {"part 0.txt": "old", "part 1.txt": "old"})
    (out / "mine.txt").write_text("mine")
    put(out, {"part 0.txt": "new"})
    assert told(out) == {"part 0.txt": "new", "mine.txt": "mine"}


def test_a_file_that_is_carried_over_is_the_same_file(tmp_path):
    """An editor that has it open goes on with it."""
    out = tmp_path / "out"
    put(out, {"part 0.txt": "old"})
    (out / "mine.txt").write_text("mine")
    before = (out / "mine.txt").stat().st_ino
    put(out, {"part 0.txt": "new"})
    assert (out / "mine.txt").stat().st_ino == before


def test_from_inside_the_folder_files_are_moved_one_by_one_and_the_shell_stays_in_it(tmp_path, monkeypatch):
    out = tmp_path / "out"
    put(out, {"part 0.txt": "old", "part 1.txt": "old"})
    (out / "photos").mkdir()
    monkeypatch.chdir(out)
    put(Path("."), {"part 0.txt": "new"})
    assert Path("part 0.txt").read_text() == "new" and not Path("part 1.txt").exists() and Path("photos").is_dir()


def test_where_nothing_can_change_places_files_are_moved_one_by_one(tmp_path, monkeypatch):
    out = tmp_path / "out"
    put(out, {"part 0.txt": "old", "part 1.txt": "old"})
    (out / "mine.txt").write_text("mine")
    monkeypatch.setattr(whole_folder, "_exchange", lambda one, other: False)
    put(out, {"part 0.txt": "new"})
    assert told(out) == {"part 0.txt": "new", "mine.txt": "mine"}


def test_a_folder_by_its_second_name(tmp_path):
    """A symlink goes on leading to the folder, and what it leads to has the files."""
    real, named = tmp_path / "disk" / "real", tmp_path / "named"
    real.mkdir(parents=True)
    named.symlink_to(real)
    put(named, {"part 0.txt": "new"})
    assert named.is_symlink() and told(real) == {"part 0.txt": "new"}
    assert [p.name for p in real.parent.iterdir()] == ["real"]


@pytest.mark.parametrize("name", ["with space", "snow☃man", "new\nline", "-dash", "é"])
def test_any_name(name, tmp_path):
    out = tmp_path / name
    put(out, {"part 0.txt": "old"})
    put(out, {"part 0.txt": "new"})
    assert told(out) == {"part 0.txt": "new"}


def test_a_folder_that_may_not_be_written_is_refused(tmp_path, monkeypatch):
    out = tmp_path / "out"
    out.mkdir()
    monkeypatch.setattr(os, "access", lambda path, mode: False)  # root may write everything
    with pytest.raises(PermissionError, match="out"):
        whole_folder.beside(out)
    assert [p.name for p in tmp_path.iterdir()] == ["out"]
