"""Parts and their modules form one line: each imports only from those above it, and a plain import stays light."""

import ast
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest
from sample_sources import parsed

import ventcalc

PACKAGE = Path(ventcalc.__file__).parent
TESTS = Path(__file__).parent

# What everything stands on, then the Parts; DEVELOPERS.md shows the same line with a word on each.
ORDER = """kept unit_names units door tables checked words compiled
gas: atmosphere fuels flue_gas combustion combustion_analysis stack_loss steam_book condensation streams appliance
flow: stack_effect steam_book_stack friction materials gas_radiation heat_loss wall_rings warm_up wall_condensation
    fittings junctions wind
vent: layout network condensing_run cooling states dilution_air boundary_conditions heat_balance pressure_balance
    newton solution common_vent varied_network varied_streams coming_to_rest stability root_census roots pieces
    single_vent draft_margin false_position vent_sizing vent_at_work nominal_sizes area_rule cold_start capacity_tables
    capacity_rules worst_state firing_states outlet_envelope reversal section_extremes end_of_header wetted_wall
    gas_content column_grid column_walls advection gas_column course momentum_balance time_step moving_vent
    transient
draft: fan_laws curve_pieces fan_curve fan_limits operating_point fan_drive fan_table fan_selection damper_loss
    damper_leakage damper_authority dampers damper_sizing barometric_control held_pressure common_window
    outlet_control sensor_error sensor_reading error_spread sensor_location sensor_held pressure_sensor controller
    actuators final_element limit_switches firing_schedule warming_time vent_response steady_response
    transient_response draft_control loop_performance loop_step closed_loop tuning spike_test purge start_settings
    start_sequence startup_sheet start_timeline sequencer pressure_record start_proof load_changes wall_lag
    oversized_flue light_off flue_wetting acid_wetting flue_liner natural_draft
building: code_rules roof_scene plan_geometry terminal roof_wind clearance_table clearance_rules clearances
    least_height sight_line clearance_words orifice_flow leakage combustion_air room_air combustion_air_verdicts
    room_balance room_pressure depressurization makeup_air combustion_air_words plume air_intakes stack_discharge
    re_entrainment re_entrainment_words co_conversions spillage co_buildup co_limits co_alarms cohb co_exposure
    co_words weather weather_file climate visible_plume
job: permissions steps findings job_fields job_form_building job_form_year job_form repeated job_keys job_schema
    starting_file job_faults job_plant job_building job_control job_alternates plant_load staging wall_memory
    year_hours job_year job_defaults job_slips job_file edited_job vent_changes remedy loop_settings device_duty margins
    remedy_outcome uncertain_inputs input_draws sensitivity chance_conditions chance remedy_reasons governing_states
    governing_scan device_choice device_remedies pipe_remedies left_out remedies remedy_words trial_run run_record
    starts failures derived_limits commissioning surroundings design shut_off between_levels operation
    spillage_findings outlet_findings draft_findings vent_findings device_findings start_findings
    surrounding_findings chance_findings judgement option_matrix study year year_findings year_compared
    performance_test site_csv site_record reading_verdicts record_causes record_judgement survey survey_causes
    changed_network surveyed_vent evidence suspect_readings calibration next_reading survey_file survey_plan
    survey_dangers mended_vent diagnosis job_as_found calibrated_study
show: whole_file whole_folder tags elevation spreadsheet state_table dxf plots svg free_places drawing_schedule
    drawing roof_drawing remedy_plots change_plots numbers window_plot finding_records outlet_records option_records
    hand_calculation remedy_records surrounding_records vent_records equipment_schedule sequence_of_operation
    points_list record_sheet submittal page_one chance_records year_records changes results path_plots section_state
    section_signs pressure_panel section_drawing envelope_plot exposure_plot state_map year_plots status pictures
    page record_page survey_form as_found_records survey_sheet printing exports report survey_page progress batch
    safe_html unit_choice typed_answer exercises chapter_texts lesson handout questions working panels
    panel_settings axes sources evidence_line evidence_table unit_switch prediction writing exercise_sheet class_set
    worked_sheet sketch contents course_plan job_editor calculator calculator_card
handbook: *
command: job_problems new_job check_job tell_keys study_jobs read_record survey_vent make_handout
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
    for node in ast.walk(parsed(path)):
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
    above = set(LINE[: LINE.index(module)])
    assert imported(path) <= above | (set(HANDBOOK) if "handbook.*" in above else set())


@pytest.mark.parametrize("module", HANDBOOK)
def test_chapter_module_imports_only_from_above(module):
    path = PACKAGE / Path(*module.split(".")).with_suffix(".py")
    assert imported(path) <= {*LINE[: LINE.index("handbook.*")], *HANDBOOK}


@pytest.mark.parametrize("part", PARTS)
def test_a_part_says_what_it_is_about(part):
    """In its ``__init__``, which holds nothing else."""
    (words,) = parsed(PACKAGE / part / "__init__.py").body
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


@pytest.mark.slow
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


def test_no_two_test_files_have_one_name():
    # pytest knows a file outside a package by its name alone, and refuses the second. Those of a package have its name.
    alone = [p for p in TESTS.rglob("test_*.py") if not (p.parent / "__init__.py").exists()]
    twice = [name for name, count in Counter(p.name for p in alone).items() if count > 1]
    assert not twice, twice
