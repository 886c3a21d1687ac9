"""Edited job: nothing changes but what was changed, and every problem stands at its field.

Texts are set against one another by lines, and read by tomllib of Python's own library.
"""

import difflib
import tomllib

import pytest

from ventcalc import tables
from ventcalc.job import edited_job, job_file, starting_file

TEXTS = {path.stem: path.read_text(encoding="utf-8") for path in sorted((tables.DATA / "jobs").glob("*.toml"))}
TEXTS["new"] = starting_file.text(3)


@pytest.fixture(params=TEXTS)
def written(request):
    return TEXTS[request.param]


def changes(before: str, after: str) -> list[str]:
    """Lines taken away and put in; blank lines, which are many, count like others."""
    old, new = before.split("\n"), after.split("\n")
    steps = difflib.SequenceMatcher(None, old, new, autojunk=False).get_opcodes()
    changed = [s for s in steps if s[0] != "equal"]
    return [text for _, a, b, c, d in changed for text in (*(f"-{x}" for x in old[a:b]), *(f"+{x}" for x in new[c:d]))]


def at(content, path):
    for key in path:
        content = content[key]
    return content


def test_what_is_only_opened_stays_byte_for_byte(written):
    assert edited_job.text(edited_job.opened(written)) == written


def test_line_ends_of_another_system_stay():
    text = TEXTS["lodge"].replace("\n", "\r\n")
    assert edited_job.text(edited_job.opened(text)) == text
    changed = edited_job.text(edited_job.with_field(edited_job.opened(text), ("site", "altitude"), "2500 m"))
    assert changed == text.replace("2400 m", "2500 m")


@pytest.mark.slow
def test_a_field_changes_its_own_line_alone(written):
    document = edited_job.opened(written)
    for field in edited_job.fields(document):
        after = edited_job.text(edited_job.with_field(document, field.path, "12 of it"))
        lines = changes(written, after)
        inline = "{" in lines[0]  # a key that was left out goes into the line of its table, where that stands in one
        assert [line[0] for line in lines] == (["-", "+"] if field.text or inline else ["+"]), field.path
        assert at(tomllib.loads(after), field.path) == "12 of it"


@pytest.mark.slow
def test_a_field_typed_as_it_stands_changes_nothing(written):
    document = edited_job.opened(written)
    for field in edited_job.fields(document):
        assert edited_job.with_field(document, field.path, field.text) is document


def test_all_values_of_the_file_are_fields(written):
    def leaves(value):
        if isinstance(value, dict | list):
            return sum(leaves(v) for v in (value.values() if isinstance(value, dict) else value))
        return 1

    shown = [f for f in edited_job.fields(edited_job.opened(written)) if f.text]
    assert len(shown) == leaves(tomllib.loads(written))
    assert [f.path for f in shown if not f.meaning and f.path[-2] != "composition"] == []


def test_every_field_stands_once_and_what_is_left_out_stands_empty(written):
    every = edited_job.fields(edited_job.opened(written))
    assert len({f.path for f in every}) == len(every)
    content = tomllib.loads(written)
    for field in (f for f in every if isinstance(f.path[-1], str)):
        assert field.path[-1] in at(content, field.path[:-1]) or (field.text == "" and field.meaning), field.path
    site = {f.key for f in every if f.path[0] == "site"}
    assert {"altitude", "shielding", "air_opening_height"} <= site  # told or not, as the form of [site] has them


def test_comments_behind_a_value_stay():
    document = edited_job.opened(TEXTS["new"])
    changed = edited_job.text(edited_job.with_field(document, ("site", "shielding"), "exposed"))
    assert changes(TEXTS["new"], changed)[1] == ('+shielding = "exposed"    # exposed, semi-sheltered or sheltered')


def test_numbers_and_switches_stay_what_they_are():
    document = edited_job.opened(TEXTS["new"])
    changed = edited_job.with_field(document, ("appliance", 0, "count"), "4")
    changed = edited_job.with_field(changed, ("appliance", 0, "backflow_flap"), "true")
    made = tomllib.loads(edited_job.text(changed))["appliance"][0]
    assert made["count"] == 4 and made["backflow_flap"] is True


def test_every_switch_left_out_can_be_typed():
    """Whatever the forms say is true or false is that in the file too, and the file can be read with it."""
    document = edited_job.opened(TEXTS["new"] + "\n[year]\n[existing_fan]\n[room]\n")
    typed = [
        ("year", "modulating"),
        ("year", "workdays_only"),
        ("existing_fan", "interlocked"),
        ("room", "interlocked"),
    ]
    for path in typed:
        document = edited_job.with_field(document, path, "false")
    made = tomllib.loads(edited_job.text(document))
    assert all(at(made, path) is False for path in typed)
    assert not {p.path for p in edited_job.problems(document)} & set(typed)


def test_nothing_typed_leaves_a_field_out():
    document = edited_job.opened(TEXTS["lodge"])
    after = edited_job.text(edited_job.with_field(document, ("site", "shielding"), ""))
    assert changes(TEXTS["lodge"], after) == ['-shielding = "semi-sheltered"']


def test_every_appliance_and_section_can_be_told_twice_and_taken_away(written):
    for kind in edited_job.TABLES:
        for number, row in enumerate(tomllib.loads(written)[kind]):
            document = edited_job.opened(written)
            more = edited_job.with_one_more(document, (kind, number))
            assert {line[0] for line in changes(written, edited_job.text(more))} == {"+"}
            rows = tomllib.loads(edited_job.text(more))[kind]
            assert len({r["name"] for r in rows}) == len(rows)
            assert rows[number + 1] | {"name": row["name"]} == row
            fewer = tomllib.loads(edited_job.text(edited_job.without(more, (kind, number + 1))))
            assert fewer == tomllib.loads(written)


def test_fittings_come_and_go():
    document = edited_job.opened(TEXTS["lodge"])
    path = ("section", 0, "fittings", 0)
    more = edited_job.with_one_more(document, path)
    assert tomllib.loads(edited_job.text(more))["section"][0]["fittings"] == ["elbow 90", "elbow 90"]
    assert len(changes(TEXTS["lodge"], edited_job.text(more))) == 2
    fewer = edited_job.without(more, path)
    assert edited_job.text(fewer) == TEXTS["lodge"]


def test_levels_can_be_told_twice():
    document = edited_job.opened(TEXTS["lodge"])
    more = tomllib.loads(edited_job.text(edited_job.with_one_more(document, ("appliance", 1, "level", 0))))
    assert [len(a["level"]) for a in more["appliance"]] == [2, 3]
    assert more["appliance"][1]["level"][0] == more["appliance"][1]["level"][1]


def test_the_only_one_cannot_be_taken_away():
    with pytest.raises(ValueError, match="only one"):
        edited_job.without(edited_job.opened(TEXTS["lodge"]), ("termination", 0))


def test_a_path_that_leads_nowhere_is_refused():
    with pytest.raises(KeyError, match="nothing stands there"):
        edited_job.with_field(edited_job.opened(TEXTS["lodge"]), ("section", 99, "length"), "1 m")


def test_demo_jobs_have_no_problems(written):
    assert edited_job.problems(edited_job.opened(written)) == ()


# A field, what is typed into it, and the path at which the problem must stand.
SPOILT = {
    "no unit": (("site", "altitude"), "2400", ("site", "altitude")),
    "another unit": (("appliance", 1, "level", 0, "input"), "70 m", ("appliance", 1, "level", 0, "input")),
    "one end of a window": (("appliance", 0, "window", 1), "much", ("appliance", 0, "window", 1)),
    "in an inline table": (("appliance", 0, "leak", "flow"), "15", ("appliance", 0, "leak", "flow")),
    "left out": (("section", 1, "length"), "", ("section", 1, "length")),
    "unknown fuel": (("appliance", 1, "fuel"), "coal", ("appliance", 1)),
    "season": (("season", 0, "outdoor"), "-400 degF", ("season", 0)),
    "site beyond sense": (("site", "altitude"), "9000 m", ("site", "altitude")),
}


@pytest.mark.parametrize("case", SPOILT)
def test_a_problem_stands_at_its_field_and_vanishes_with_it(case):
    path, typed, place = SPOILT[case]
    document = edited_job.opened(TEXTS["lodge"])
    spoilt = edited_job.with_field(document, path, typed)
    found = edited_job.problems(spoilt)
    assert place in [p.path for p in found]
    with pytest.raises(job_file.JobError) as told:
        job_file.read(edited_job.text(spoilt).encode())
    assert [p.sentence for p in found] == told.value.problems
    assert edited_job.problems(edited_job.with_field(spoilt, path, _text(document, path))) == ()


def _text(document, path):
    return next(f.text for f in edited_job.fields(document) if f.path == path)


def test_a_problem_of_a_counted_appliance_stands_at_its_table():
    document = edited_job.opened(TEXTS["new"])
    for typed, path in (("coal", ("appliance", 0, "fuel")), ("many", ("appliance", 0, "count"))):
        found = edited_job.problems(edited_job.with_field(document, path, typed))
        assert {p.path[:2] for p in found} == {("appliance", 0)}


def test_what_is_no_toml_is_refused_in_words():
    with pytest.raises(job_file.JobError, match="toml.io"):
        edited_job.opened("[job\n")
