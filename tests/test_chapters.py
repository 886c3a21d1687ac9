"""Chapters as they are kept: run to the end, no error, no state of one machine, readable differences.

That their outputs are right is checked by nbval, which runs each one again and compares.
"""

import os
import re
from collections.abc import Iterator
from pathlib import Path

import nbformat
import pytest
from nbclient import NotebookClient
from run_chapters import CHAPTERS, LONGEST_CELL, normalize
from test_tables import ABSOLUTE_PATH

PATHS = sorted(CHAPTERS.glob("*.ipynb"))
LARGEST_OUTPUT = 2_000_000  # bytes of one cell's outputs; a page of figures is a tenth of it


@pytest.fixture(params=PATHS, ids=lambda path: path.stem)
def path(request) -> Path:
    return request.param


@pytest.fixture
def notebook(path):
    return nbformat.read(path, as_version=4)


def code_cells(notebook):
    return [cell for cell in notebook.cells if cell.cell_type == "code" and cell.source.strip()]


def texts(notebook) -> Iterator[str]:
    """What a reader sees or could copy: sources and the text outputs."""
    for cell in notebook.cells:
        yield cell.source
        for output in cell.get("outputs", ()):
            yield output.get("text", "")
            yield from (v for k, v in output.get("data", {}).items() if k.startswith("text/"))


def test_notebook_is_valid(notebook):
    nbformat.validate(notebook)


def test_every_code_cell_was_run_in_order(notebook):
    counts = [cell.execution_count for cell in code_cells(notebook)]
    assert counts == list(range(1, len(counts) + 1))


def test_no_output_is_an_error(notebook):
    assert not [o for cell in code_cells(notebook) for o in cell.outputs if o.output_type == "error"]


def test_no_warning_reached_the_reader(notebook):
    assert not [o.text for cell in code_cells(notebook) for o in cell.outputs if o.get("name") == "stderr"]


def test_kernel_is_python3(notebook):
    assert notebook.metadata.kernelspec.name == "python3"


def test_no_output_is_hidden_from_comparison(notebook):
    skipped = {"nbval-skip", "nbval-ignore-output"}
    assert not [c.id for c in code_cells(notebook) if skipped & set(c.metadata.get("tags", []))]
    assert not [c.id for c in code_cells(notebook) if "NBVAL_" in c.source]


def test_outputs_are_small(notebook):
    sizes = {cell.id: len(str(cell.outputs)) for cell in code_cells(notebook)}
    assert {cell: size for cell, size in sizes.items() if size > LARGEST_OUTPUT} == {}


def test_no_path_of_a_machine(notebook):
    assert not [text for text in texts(notebook) if ABSOLUTE_PATH.search(text)]


def test_notebook_is_normalized(path, notebook):
    assert nbformat.writes(normalize(notebook)) + "\n" == path.read_text(encoding="utf-8"), (
        f"run: .venv/bin/python tests/run_chapters.py {path.stem}"
    )


@pytest.mark.sweep
def test_a_turned_chapter_runs_in_si_units(path, notebook):
    if not any("in_units(" in cell.source or "@in_units" in cell.source for cell in code_cells(notebook)):
        pytest.skip("it has no unit switch yet")
    client = NotebookClient(notebook, timeout=LONGEST_CELL, resources={"metadata": {"path": str(path.parent)}})
    client.execute(env=os.environ | {"VENTCALC_UNITS": "SI"})
    told = " ".join(texts(notebook))
    assert "SI units" in told and not re.search(r"\d in\. w\.c\.", " ".join(shown(notebook)))


def shown(notebook) -> Iterator[str]:
    """The text of what is shown through the unit switch."""
    for cell in code_cells(notebook):
        for output in cell.outputs:
            if output.output_type == "display_data":
                yield output.data.get("text/plain", "")


def test_there_are_chapters():
    assert PATHS
