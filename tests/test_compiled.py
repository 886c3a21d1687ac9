"""Compiled laws: one formula in numpy and as machine code, and where the machine code is kept."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import numba
import numpy as np
import pytest

import ventcalc
from ventcalc import compiled, tables
from ventcalc.compiled import either, law, loop, put
from ventcalc.flow import friction, heat_loss
from ventcalc.gas import streams
from ventcalc.gas.streams import STEAM

PACKAGE = Path(ventcalc.__file__).parent


@law
def _quotient(one, other):
    return either(other > 1.0, one / other, one / (0.0 * other))


@loop
def _quotients(ones, others, found):
    for k in range(found.size):
        found[k] = _quotient(ones[k], others[k])


_held, _factor, _nusselt = streams.held_at_wall, law(friction.friction_factor.bare), heat_loss.nusselt_from_power


@loop
def _of_streams(gas, wall, reynolds, found):
    for k in range(wall.size):
        found[0, k], found[1, k] = _held(gas, wall[k], 101325.0)
        found[2, k] = _factor(reynolds[k], 1e-3)
        found[3, k] = _nusselt(reynolds[k], 0.7, 0.788, found[2, k])


@loop
def _makes_an_array(ones, found):
    for k in range(found.size):
        found[k] = (ones + k).sum()


def test_a_loop_that_makes_an_array_is_refused():
    # The library's own error: arrays that nobody counts would never be given back.
    with pytest.raises(numba.core.errors.NumbaError, match="NRT required"):
        _makes_an_array(np.ones(2), np.empty(2))


@loop
def _put_all(place, values):
    put(place, values[::2])


def test_a_row_is_put_into_its_place():
    place = np.empty(3)
    _put_all(place, np.arange(6.0))
    np.testing.assert_array_equal(place, [0.0, 2.0, 4.0])


@pytest.mark.slow
def test_a_law_is_the_same_on_arrays_and_one_by_one():
    # numpy is the library it is checked against; frozen and wet walls, laminar and turbulent flow.
    wall, reynolds, found = np.linspace(240.0, 360.0, 61), np.geomspace(100.0, 1e6, 61), np.empty((4, 61))
    _of_streams(STEAM * 0.1 + 0.9, wall, reynolds, found)
    gas = (STEAM * 0.1 + 0.9)[:, None]
    factor = friction.friction_factor.bare(reynolds, 1e-3)
    expected = *streams.held_at_wall(gas, wall, 101325.0), factor, _nusselt(reynolds, 0.7, 0.788, factor)
    np.testing.assert_allclose(found, expected, rtol=1e-13)


def test_a_division_by_nought_is_infinite_as_in_numpy():
    one, other, found = np.array([6.0, 6.0]), np.array([2.0, 0.5]), np.empty(2)
    _quotients(one, other, found)
    with np.errstate(divide="ignore"):
        np.testing.assert_array_equal(found, _quotient(one, other))
    assert found.tolist() == [3.0, np.inf]


def run(package: Path, **environment) -> str:
    """Mix two streams in a process of its own; what it says, and the folder in which machine code was kept."""
    code = (
        "import numpy as np\nfrom ventcalc import compiled\nfrom ventcalc.gas import streams\n"
        "gas, one = np.repeat(streams.STEAM[:, None], 2, axis=1), np.ones(2)\n"
        "print(streams.mix(((one, 400.0 * one, gas), (one, 500.0 * one, gas)), 1e5)[0][0].round(-1))\n"
        "print(compiled._folder())\n"
    )
    own = {name: value for name, value in os.environ.items() if name != "NUMBA_CACHE_DIR"}
    own |= {"PYTHONPATH": str(package.parent), "PYTHONDONTWRITEBYTECODE": "1", **environment}
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, env=own, cwd=package.parent)
    assert found.returncode == 0, found.stderr
    return found.stdout.split()


@pytest.fixture
def copy(tmp_path):
    """A copy of the package with nothing kept."""
    shutil.copytree(PACKAGE, tmp_path / "ventcalc", ignore=shutil.ignore_patterns("__pycache__", "handbook"))
    shutil.copytree(tables.DATA, tmp_path / "data")
    return tmp_path / "ventcalc"


@pytest.mark.slow
def test_machine_code_is_kept_until_any_source_changes(copy, tmp_path):
    mixed, folder = run(copy)
    assert mixed == "450.0" and Path(folder).parent.parent == copy / "__pycache__"
    kept = {path: path.stat().st_mtime_ns for path in Path(folder).rglob("*.nbc")}
    assert kept
    assert run(copy) == [mixed, folder]
    assert {path: path.stat().st_mtime_ns for path in Path(folder).rglob("*.nbc")} == kept  # read, not made anew
    other = copy / "gas" / "atmosphere.py"  # not the file that is compiled: its constants are in the machine code too
    other.write_text(other.read_text(encoding="utf-8") + "\n# changed\n", encoding="utf-8")
    _, changed = run(copy)
    assert changed != folder and not Path(folder).exists() and list(Path(changed).rglob("*.nbc"))


@pytest.mark.slow
def test_a_folder_that_cannot_be_written_does_no_harm(copy, tmp_path):
    (copy / "__pycache__").write_text("a file where the folder should be")  # holds for every user, even for root
    home = tmp_path / "cache"
    mixed, folder = run(copy, XDG_CACHE_HOME=str(home))
    assert mixed == "450.0" and Path(folder).is_relative_to(home)
    home_taken = tmp_path / "taken"
    home_taken.write_text("")
    assert run(copy, XDG_CACHE_HOME=str(home_taken)) == ["450.0", "None"]


def test_no_law_stands_outside_the_parts_whose_sources_are_watched():
    # The machine code is kept under the fingerprint of these: a law elsewhere could be changed and its old code run on.
    for path in PACKAGE.rglob("*.py"):
        part = path.relative_to(PACKAGE).parts[0]
        if path.name != "compiled.py" and part not in (*compiled._PARTS, path.name):
            assert "ventcalc.compiled" not in path.read_text(encoding="utf-8"), path


def test_the_compiler_is_not_loaded_before_it_is_asked_for():
    code = "import sys\nfrom ventcalc.job import study\nprint([m for m in ('numba', 'matplotlib') if m in sys.modules])"
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=PACKAGE.parent)
    assert found.stdout.strip() == "[]", found.stderr
