"""Parts and their modules form one line: each imports only from those above it, and a plain import stays light."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import ventcalc

PACKAGE = Path(ventcalc.__file__).parent
TESTS = Path(__file__).parent

# What everything stands on, then the Parts; DEVELOPERS.md shows the same line with a word on each.
ORDER = """
unit_names units tables checked words compiled
gas: atmosphere fuels flue_gas combustion condensation streams appliance
flow: stack_effect friction materials gas_radiation heat_loss wall_condensation fittings junctions wind
vent: layout network condensing_run cooling common_vent roots vent_sizing area_rule capacity_tables firing_states
    wetted_wall gas_column course transient
draft: fans dampers held_pressure outlet_control sensor_location draft_control closed_loop tuning spike_test purge
    start_sequence start_proof load_changes natural_draft
building: clearances combustion_air re_entrainment carbon_monoxide
job: permissions findings repeated job_file vent_changes governing_states remedy_words remedies trial_run failures
    surroundings design operation judgement study
show: elevation drawing roof_drawing plots remedy_plots change_plots report handout exercises questions panels axes
    sources contents spreadsheet dxf batch
handbook: *
__main__
"""


def _line(order: str) -> tuple[str, ...]:
    """Modules by their names with the folder, from the top."""
    line, part = [], ""
    for word in order.split():
        if word.endswith(":"):
            part = word[:-1]
        elif word == "__main__":
            line.append(word)
        else:
            line.append(f"{part}.{word}".lstrip("."))
    return tuple(line)


LINE = _line(ORDER)

# Everything the sums need; what draws and shows comes after it and may import matplotlib or ipywidgets.
CALCULATION = LINE[: LINE.index("job.study") + 1]

PARTS = tuple(dict.fromkeys(module.partition(".")[0] for module in LINE if "." in module))

MODULES = sorted(
    ".".join(path.relative_to(PACKAGE).with_suffix("").parts)
    for path in PACKAGE.rglob("*.py")
    if path.stem != "__init__" and path.parent.name != "handbook"
)

# One module a chapter; they stand in one place on the line and do not know one another, but for what a chapter shows
# again of another.
HANDBOOK = sorted(f"handbook.{path.stem}" for path in (PACKAGE / "handbook").glob("*.py") if path.stem != "__init__")


def imported(path: Path) -> set[str]:
    """Names of the ventcalc modules that a file imports, with their folders, at any depth of the code."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {a.name.partition(".")[2] for a in node.names if a.name.startswith("ventcalc.")}
        elif isinstance(node, ast.ImportFrom) and node.level:
            raise AssertionError(f"{path.name}: write the whole name of a module, not dots")
        elif isinstance(node, ast.ImportFrom) and (node.module or "").partition(".")[0] == "ventcalc":
            inside = node.module.partition(".")[2]
            whole = inside and inside not in PARTS  # else the names are modules
            found |= {inside} if whole else {f"{inside}.{a.name}".lstrip(".") for a in node.names}
    return found - {"__version__"}


def test_every_module_stands_on_the_line():
    assert set(MODULES) <= set(LINE), "give a new module its place in ORDER, and in DEVELOPERS.md"
    assert set(LINE) - {"handbook.*"} <= set(MODULES), "ORDER names what is not there"


@pytest.mark.parametrize("module", MODULES)
def test_module_imports_only_from_above(module):
    path = PACKAGE / Path(*module.split(".")).with_suffix(".py")
    assert imported(path) <= set(LINE[: LINE.index(module)])


@pytest.mark.parametrize("module", HANDBOOK)
def test_chapter_module_imports_only_from_above(module):
    path = PACKAGE / Path(*module.split(".")).with_suffix(".py")
    assert imported(path) <= {*LINE[: LINE.index("handbook.*")], *HANDBOOK}


@pytest.mark.parametrize("part", PARTS)
def test_a_part_says_what_it_is_about(part):
    """In its ``__init__``, which holds nothing else."""
    (words,) = ast.parse((PACKAGE / part / "__init__.py").read_text(encoding="utf-8")).body
    assert len(ast.literal_eval(words.value).split()) >= 10


def test_import_finder_sees_every_form(tmp_path):
    file = tmp_path / "sample.py"
    file.write_text(
        "from ventcalc import __version__, units as u\nimport ventcalc.job.study\nfrom ventcalc.gas.fuels import x\n"
        "from ventcalc.draft import fans, dampers\ndef f():\n    from ventcalc.show import panels\nimport numpy\n"
    )
    assert imported(file) == {"units", "job.study", "gas.fuels", "draft.fans", "draft.dampers", "show.panels"}
    file.write_text("from .job_file import y\n")
    with pytest.raises(AssertionError, match="whole name"):
        imported(file)


def test_calculation_imports_neither_coolprop_nor_matplotlib():
    names = [f"ventcalc.{m}" for m in CALCULATION]
    code = (
        "import importlib, sys\n"
        f"for name in ['ventcalc', *{names}]: importlib.import_module(name)\n"
        "print(*sorted(m for m in ('CoolProp', 'matplotlib', 'ipywidgets', 'IPython') if m in sys.modules))"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert run.returncode == 0, run.stderr
    assert run.stdout.split() == []


@pytest.mark.parametrize("module", [m for m in MODULES if m != "__main__"])
def test_every_subject_has_a_test_file_of_its_own_in_the_same_folder(module):
    *part, subject = module.split(".")
    assert Path(TESTS, *part, f"test_{subject}.py").is_file()
