"""Run chapters in place and keep their outputs in a form whose differences can be read.

    .venv/bin/python tests/run_chapters.py                    every chapter
    .venv/bin/python tests/run_chapters.py 06_stack_effect    one of them

Running a notebook writes random ids and times into it. `normalize` replaces or drops them, so that a
changed chapter differs only where its text, code or numbers changed.
"""

import os
import re
import sys
import time
from pathlib import Path

import nbformat
from nbclient import NotebookClient
from nbclient.exceptions import CellExecutionError

CHAPTERS = Path(__file__).parent.parent / "chapters"
LONGEST_CELL = 60  # s

# As JupyterLab writes it: it puts its kernel's own in place of anything else as soon as a chapter is opened, and then
# asks to save. Of another release of Python than this it still does.
METADATA = {
    "kernelspec": {"display_name": "Python 3 (ipykernel)", "language": "python", "name": "python3"},
    "language_info": {
        "codemirror_mode": {"name": "ipython", "version": 3},
        "file_extension": ".py",
        "mimetype": "text/x-python",
        "name": "python",
        "nbconvert_exporter": "python",
        "pygments_lexer": "ipython3",
        "version": "3.11.7",
    },
}

_WIDGET = "application/vnd.jupyter.widget-view+json"


def normalize(notebook: nbformat.NotebookNode) -> nbformat.NotebookNode:
    """The same notebook with stable ids and without the state of one run."""
    notebook.metadata = nbformat.from_dict(METADATA)
    models: dict[str, str] = {}
    for number, cell in enumerate(notebook.cells, start=1):
        cell.id = f"cell-{number:02d}"
        cell.metadata = nbformat.from_dict({k: v for k, v in cell.metadata.items() if k == "tags" and v})
        if cell.cell_type == "code":
            cell.outputs = _joined(cell.outputs)
        for output in cell.get("outputs", ()):
            output.pop("transient", None)
            view = output.get("data", {}).get(_WIDGET)
            if view:
                # Same widget, same number: a widget shown twice keeps one id.
                view["model_id"] = models.setdefault(view["model_id"], f"{len(models) + 1:032x}")
            for text in ("text", "text/plain"):
                holder = output if text == "text" else output.get("data", {})
                if isinstance(holder.get(text), str):
                    holder[text] = re.sub(r"\b0x[0-9a-f]{6,}\b", "0x000000", holder[text])
    return notebook


def _joined(outputs: list) -> list:
    """The outputs with what was printed in several goes, as a slow machine does, in one."""
    found: list = []
    for output in outputs:
        if found and output.output_type == found[-1].output_type == "stream" and output.name == found[-1].name:
            found[-1].text += output.text
        else:
            found.append(output)
    return found


def run(path: Path) -> float:
    """Execute one chapter in its own folder, normalize it, write it; returns the seconds it took."""
    notebook = nbformat.read(path, as_version=4)
    began = time.perf_counter()
    NotebookClient(
        notebook,
        timeout=LONGEST_CELL,
        kernel_name="python3",
        resources={"metadata": {"path": str(path.parent)}},
        store_widget_state=False,
        record_timing=False,
    ).execute()
    took = time.perf_counter() - began
    path.write_text(nbformat.writes(normalize(notebook)) + "\n", encoding="utf-8")
    return took


def main(names: list[str]) -> int:
    """Run the chapters named, or all, in US units; returns how many failed."""
    os.environ["VENTCALC_UNITS"] = "US"
    failed = 0
    for path in [CHAPTERS / f"{Path(n).stem}.ipynb" for n in names] or sorted(CHAPTERS.glob("*.ipynb")):
        try:
            print(f"{path.stem:32} {run(path):6.1f} s", flush=True)
        except CellExecutionError as error:
            failed += 1
            print(f"{path.stem:32} FAILED\n{error}", flush=True)
    return failed


if __name__ == "__main__":
    sys.exit(min(main(sys.argv[1:]), 1))
