"""How long the live controls of the chapters take to answer, picture included: the median of fifty settings.

    .venv/bin/python tests/benchmarks/bench_controls.py                    every chapter that has controls
    .venv/bin/python tests/benchmarks/bench_controls.py heat_loss          one of them

Times depend on the machine and on what else it does; a chapter aims at 150 ms, that of
chance, which solves a vent 256 times anew, at 300 ms.
"""

import importlib
import sys
import time
from pathlib import Path
from statistics import median

import numpy as np

import ventcalc.handbook

SETTINGS = 50
MODULES = sorted(p.stem for p in Path(ventcalc.handbook.__file__).parent.glob("*.py") if p.stem != "__init__")


def settings(panel, draw: np.random.Generator) -> dict:
    """One value for each control, drawn from all that it offers."""
    found = {}
    for name, control in panel.controls.items():
        value = control.options[draw.integers(len(control.options))]
        found[name] = value[1] if isinstance(value, tuple) else value
    return found


def answer_times(panel) -> list[float]:
    """Seconds that each answer took."""
    draw, times = np.random.default_rng(1), []
    for _ in range(SETTINGS):
        values = settings(panel, draw)
        began = time.perf_counter()
        panel.answer(**values)
        times.append(time.perf_counter() - began)
    return times


def main(names: list[str]) -> None:
    """Print median and longest time of each chapter named, or of all."""
    for name in names or MODULES:
        explorer = getattr(importlib.import_module(f"ventcalc.handbook.{name}"), "explorer", None)
        if explorer is not None:
            times = answer_times(explorer("US"))
            print(f"{name:20} median {1e3 * median(times):5.0f} ms, longest {1e3 * max(times):5.0f} ms", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
