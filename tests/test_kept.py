"""Kept: what takes long is found again on disk; where nothing can be written, or a file was cut off, all goes on."""

import os
import subprocess
import sys

import pytest

ASK = "from ventcalc import kept, units; print(kept.folder('units')); print(units.Q_(1, 'inH2O').to('Pa').magnitude)"


def asked(**environment):
    told = subprocess.run(
        [sys.executable, "-c", ASK], capture_output=True, text=True, check=True, env=os.environ | environment
    )
    folder, pascal = told.stdout.split("\n")[:2]
    assert float(pascal) == pytest.approx(249.089, abs=1e-3)  # NIST SP 811
    return folder


def test_units_are_kept_where_it_is_asked(tmp_path):
    assert asked(NUMBA_CACHE_DIR=str(tmp_path)) == str(tmp_path / "units")
    assert list((tmp_path / "units").iterdir())


def test_a_file_that_was_cut_off_does_no_harm(tmp_path):
    asked(NUMBA_CACHE_DIR=str(tmp_path))
    for path in (tmp_path / "units").iterdir():
        path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    asked(NUMBA_CACHE_DIR=str(tmp_path))


def test_nowhere_to_write_is_no_fault(tmp_path):
    file = tmp_path / "a file"
    file.write_text("")
    assert asked(NUMBA_CACHE_DIR=str(file)) == "None"
