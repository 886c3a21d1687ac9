"""The modules form one line: each imports only from those above it, and a plain import stays light."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import ventcalc

PACKAGE = Path(ventcalc.__file__).parent
TESTS = Path(__file__).parent

# DEVELOPERS.md shows the same line with a word on each.
ORDER = """
units tables checked compiled atmosphere fuels flue_gas combustion condensation appliance materials stack_effect
friction
gas_radiation heat_loss wall_condensation fittings junctions wind layout permissions streams network condensing_run
cooling common_vent roots vent_sizing area_rule capacity_tables firing_states wetted_wall gas_column course transient
fans dampers held_pressure outlet_control sensor_location draft_control closed_loop tuning spike_test purge
start_sequence start_proof load_changes natural_draft clearances combustion_air re_entrainment carbon_monoxide findings
job vent_changes governing_states remedy_words remedies trial_run failures surroundings design operation judgement study
elevation drawing roof_drawing plots remedy_plots change_plots report handout exercises panels handbook __main__
"""
LINE = ORDER.split()

# Everything the sums need; what draws and shows comes after it and may import matplotlib or ipywidgets.
CALCULATION = LINE[: LINE.index("study") + 1]

MODULES = sorted(path.stem for path in PACKAGE.glob("*.py") if path.stem != "__init__")

# One module a chapter; they stand in one place on the line and may share what several chapters draw alike.
HANDBOOK = sorted(path.stem for path in (PACKAGE / "handbook").glob("*.py"))


def imported(path: Path) -> set[str]:
    """Names of the ventcalc modules that a file imports, at any depth of the code."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {a.name.split(".")[1] for a in node.names if a.name.startswith("ventcalc.")}
        elif isinstance(node, ast.ImportFrom):
            module = node.module or ""
            relative, absolute = node.level == 1, node.level == 0 and module.split(".")[0] == "ventcalc"
            inside = module if relative else module.partition(".")[2]
            if relative or absolute:
                found |= {inside.split(".")[0]} if inside else {a.name for a in node.names}
    return found


def test_every_module_stands_on_the_line():
    assert set(MODULES) <= set(LINE), "give a new module its place in ORDER, and in DEVELOPERS.md"


@pytest.mark.parametrize("module", MODULES)
def test_module_imports_only_from_above(module):
    above = set(LINE[: LINE.index(module)]) | {"__version__"}
    assert imported(PACKAGE / f"{module}.py") <= above


@pytest.mark.parametrize("module", HANDBOOK)
def test_chapter_module_imports_only_from_above(module):
    above = set(LINE[: LINE.index("handbook") + 1]) | {"__version__"}
    assert imported(PACKAGE / "handbook" / f"{module}.py") <= above


def test_import_finder_sees_every_form(tmp_path):
    file = tmp_path / "sample.py"
    file.write_text(
        "from ventcalc import fans, units as u\nimport ventcalc.study\nfrom ventcalc.fuels import x\n"
        "from . import dampers\nfrom .job import y\ndef f():\n    from ventcalc import panels\nimport numpy\n"
    )
    assert imported(file) == {"fans", "units", "study", "fuels", "dampers", "job", "panels"}


def test_calculation_imports_neither_coolprop_nor_matplotlib():
    names = [f"ventcalc.{m}" for m in CALCULATION if m in MODULES]
    code = (
        "import importlib, sys\n"
        f"for name in ['ventcalc', *{names}]: importlib.import_module(name)\n"
        "print(*sorted(m for m in ('CoolProp', 'matplotlib', 'ipywidgets', 'IPython') if m in sys.modules))"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert run.returncode == 0, run.stderr
    assert run.stdout.split() == []


@pytest.mark.parametrize("module", [m for m in MODULES if m != "__main__"])
def test_every_subject_has_a_test_file_of_its_own(module):
    assert (TESTS / f"test_{module}.py").is_file()
