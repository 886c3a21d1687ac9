"""The page: well-formed, alone, in its order, all that was found in it, and every input escaped."""

import hashlib
import re
from dataclasses import replace
from html import unescape
from pathlib import Path

import pytest
from sample_reports import WRITTEN, Page, drawn, html, kept, one_line, text
from sample_studies import JOBS, STUDIES

from ventcalc import __version__
from ventcalc.draft import startup_sheet
from ventcalc.job import findings, job_file, remedy_words, study
from ventcalc.show import finding_records, page, pictures, results, status
from ventcalc.vent import firing_states, outlet_envelope


@pytest.fixture(params=WRITTEN, ids="-".join)
def written(request):
    return request.param


def made(found: study.Study) -> str:
    """The page of a study."""
    return page.html(results.results(found), pictures.figures(found))


@pytest.mark.slow
def test_page_is_well_formed_and_stands_alone(written):
    read = Page(html(*written))
    assert not read.faults and not read.open
    named = ("src", "href", "srcset", "action")
    addresses = [v for _, attributes in read.tags for k, v in attributes.items() if k in named]
    assert addresses and all(a.startswith(("data:image/png;base64,", "#")) for a in addresses)
    assert not {tag for tag, _ in read.tags} & {"script", "link", "iframe", "object", "embed", "base", "form"}
    assert not re.search(r"url\(|@import", html(*written))
    policy = next(a["content"] for t, a in read.tags if t == "meta" and "http-equiv" in a)
    assert policy.startswith("default-src 'none'")
    assert {a["href"][1:] for t, a in read.tags if t == "a"} <= {a.get("id") for _, a in read.tags}


@pytest.mark.slow
def test_a_picture_has_a_number_of_its_own_and_is_told_in_words(written):
    tags = Page(html(*written)).tags
    found = kept(*written)
    of_remedies = bool(found["remedies"]) + (3 if found["offered"] else 0)
    around = len(found["around"]["terminals"]) + bool(found["around"]["spills"])
    shown = [a for t, a in tags if t == "img"]
    # The first two stand on page one, without a number.
    assert len(shown) == 2 + 5 + bool(found["load_changes"]) + of_remedies + around
    assert all(len(a["alt"]) > 60 for a in shown)
    numbers = [int(a["id"].removeprefix("figure-")) for t, a in tags if t == "figure"]
    assert len(numbers) == len(shown) - 2 and numbers == sorted(set(numbers))


@pytest.mark.parametrize(("name", "system"), WRITTEN)
def test_page_says_what_the_study_found(name, system):
    found, told = STUDIES[name], text(name, system)
    for f in found.judgement.findings:
        assert one_line(findings.sentence(f, system)) in told
    for sentence in (*study.sources(found), *study.CAUTIONS, *found.job.defaults):
        assert one_line(status.marked(sentence)) in told
    said = kept(name, system)
    for sentence in (said["convention"], said["verdict"]["sentence"], *said["assumptions"], *said["not_checked"]):
        assert one_line(sentence) in told
    assert found.job.digest in told and __version__ in told


def test_page_keeps_its_order(written):
    changes = "why figure-2 " if kept(*written)["load_changes"] else "why "
    parts = (
        f"appliances sections figure-1 seasons found outlets {changes}figure-5 draft remedies offered alternates "
        "around assumptions sources cautions"
    )
    marks = ['class="verdict"', "Sign of pressures", *(f'id="{part}"' for part in parts.split()), 'id="appendix"']
    places = [html(*written).index(mark) for mark in marks]
    assert places == sorted(places)


def test_contents_and_headings_number_the_chapters_alike(written):
    contents = re.findall(r'<a href="#(\w+)">(\d+) ', html(*written))
    assert contents == re.findall(r'<h2 id="(\w+)">(\d+) ', html(*written))
    assert [int(number) for _, number in contents] == list(range(1, len(contents) + 1)) and len(contents) == 16


@pytest.mark.parametrize("name", JOBS)
def test_page_tells_every_remedy_with_its_reasons(name):
    """None is hidden, cured or not; where none cures it the page says so."""
    found, told = STUDIES[name], text(name)
    for o in found.outcomes:
        assert o.remedy.name in told and remedy_words.words(o.remedy) in told
        against = ", ".join(dict.fromkeys(f.title.lower() for f in o.judgement.against)) if o.judgement else ""
        assert one_line(against or remedy_words.reasons(o)[0]) in told
    assert ("None of these cures it" in told) == (bool(found.outcomes) and not any(o.cured for o in found.outcomes))


@pytest.mark.parametrize("name", ["swim_hall", "lodge"])
def test_page_tells_what_the_offered_remedy_leaves_and_how_it_is_set(name):
    with_it, told = STUDIES[name].offered, text(name)
    assert finding_records.verdict(STUDIES[name])["offered"] in told
    for f in with_it.judgement.findings:
        assert one_line(findings.sentence(f)) in told
    for row in startup_sheet.startup_sheet(with_it.trial.settings):
        assert row.name in told and startup_sheet.shown(row.value) in told


def test_what_is_said_of_a_remedy_stands_beside_its_name():
    """The remedy that the job names fails and another cures: the report is about that, and says of each its own."""
    hospital = STUDIES["hospital"]
    failed = replace(hospital.offered, judgement=hospital.judgement)
    found = replace(hospital, offered=failed, best=hospital.offered)
    verdict = finding_records.verdict(found)
    assert not verdict["asked"] and finding_records.verdict(hospital)["asked"]
    assert verdict["offered"].endswith("1 fault remains.") and "nothing that was checked" in verdict["best"]
    told = one_line(unescape(made(found)))
    remedy = hospital.offered.outcome.remedy
    _, named, beside = told.partition(f"<p><b>{remedy.name}:</b> ")
    words, told_of_it, _ = beside.partition(f" {verdict['best']}</p>")
    assert named and told_of_it and words.removesuffix(".") == remedy_words.words(remedy).removesuffix("."), beside[
        :300
    ]


def test_every_paper_of_a_design_not_to_be_built_says_so_at_its_head():
    found, told = kept("swim_hall")["submittal"], html("swim_hall")
    papers = told[told.index('class="papers"') : told.index('class="behind"')].split("<h2>")[1:]
    titles = [paper.partition("</h2>")[0] for paper in papers]
    assert len(titles) == 5 and "Start-up sheet" in titles
    assert found["not_to_build"] and all(found["not_to_build"] in paper[:300] for paper in papers)


def test_page_tells_the_worst_start_of_each_season_and_the_worst_of_each_failure():
    """Worked out again from the numbers of results.json, one by one."""
    offered, told = kept("swim_hall")["offered"], text("swim_hall")
    for season in {s["season"] for s in offered["starts"]}:
        beyond = [
            (o["beyond"]["value"] or 0.0, s, o)
            for s in offered["starts"]
            if s["season"] == season
            for o in s["outlets"]
        ]
        _, start, outlet = max(beyond, key=lambda one: one[0])
        row = f"{season}: {', '.join(start['order'])} "
        after = told.partition("Starts: the worst order")[2].partition(row)[2]
        assert after[:60].find(outlet["appliance"]) >= 0 and outlet["beyond"]["shown"] in after[:90]
    for f in offered["failures"]:
        most = max(f["outlets"], key=lambda o: o["into_room"]["value"])
        assert most["into_room"]["shown"] in told.partition("Failures: the worst")[2].partition(f["case"])[2][:200]


def test_the_first_of_equals_is_the_worst():
    rows = [{"name": n, "beyond": {"value": v}} for n, v in (("a", None), ("b", 2.0), ("c", 2.0), ("d", -1.0))]
    assert page.worst(rows, "beyond")["name"] == "b"
    starts = [{"name": n, "outlets": [row]} for n, row in zip("wxyz", rows, strict=True)]
    assert page.worst_start(starts)["name"] == "x"
    assert page.worst(rows[:1], "beyond")["name"] == "a"


@pytest.mark.slow
def test_what_a_job_is_filed_under_stands_at_its_head_and_under_every_page():
    found = results.results(STUDIES["laundry"])
    odd = '26-031" } </style><b>'
    told = {"project": odd, "engineer": "E. One", "checker": "C. Two", "revision": "B"}
    html = page.html(found | {"job": found["job"] | {"document": told}}, drawn("laundry"))
    head = html[html.index('class="facts"') : html.index("Carbon monoxide kills")]
    assert all(f"<span>{name}</span>" in head for name in told) and "E. One" in head and "C. Two" in head
    style = html[: html.index("</style>")]
    assert "project 26\\2d 031\\22 " in style and "revision B" in style and odd not in html
    plain = page.html(found, drawn("laundry"))
    assert "<span>project</span>" not in plain and "revision" not in plain[: plain.index("</style>")]


def test_what_may_be_a_slip_stands_on_page_one():
    found = kept("laundry")
    odd = found | {"job": found["job"] | {"remarks": ["outlet_height = 90 ft & <more>"]}}
    front, plain = (page.html(each, drawn("laundry")).partition('class="facts"')[0] for each in (odd, found))
    assert front.index('class="verdict"') < front.index("Look again") < front.index("outlet_height = 90 ft &amp; &lt;m")
    assert "Look again" not in plain


@pytest.mark.parametrize("name", JOBS)
def test_sources_are_numbered_and_cited_by_their_numbers(name):
    sources = kept(name)["sources"]
    place = next(k for k, source in enumerate(sources, 1) if source.startswith("friction.friction_factor:"))
    assert page.cite("friction.friction_factor", sources) == f"[{place}]"
    assert page.cite("no such equation", sources) == ""
    folder = Path(page.__file__).parent / "templates" / "report"
    templates = "".join(file.read_text(encoding="utf-8") for file in folder.glob("*.html"))
    named = set(re.findall(r'"([\w.]+)"\|cite', templates))
    assert len(named) >= 5 and all(page.cite(what, sources) for what in named)
    told = html(name)
    cited = {int(n) for n in re.findall(r"\[(\d+)\]", Page(told).text)}
    assert cited and max(cited) <= len(sources)
    for section in kept(name)["sections"]:
        assert page.cite(f"material {section['material']}", sources)
    listed = told[told.index('class="small three cited"') :].partition("</ol>")[0]
    assert listed.count("<li>") >= len(sources)


def shown(value, text=""):
    return {"value": value, "shown": text or f"{value} ft"}


def test_of_many_the_worst_are_told_at_length_and_of_few_all():
    few = [{"margin": shown(n)} for n in range(page.FEW)]
    assert page.worst_of_many(few, "margin") == list(range(page.FEW))
    many = [{"margin": shown(n), "spilled": shown(0.0), "above": shown(n)} for n in (5, 3, 9, -1, 7, 2, 8, 6)]
    assert page.worst_of_many(many, "margin") == [1, 3, 5]
    assert page.worst_of_many(many, most=("spilled", "above")) == [2, 4, 6]
    many[0]["spilled"] = shown(0.1)
    assert page.worst_of_many(many, most=("spilled", "above")) == [0, 2, 6]
    many[1]["margin"] = {"value": None, "shown": "–"}  # no number counts as nought
    assert page.worst_of_many(many, "margin") == [1, 3, 5]


def test_what_shows_the_same_is_told_once():
    rows = [{"name": f"Boiler {n}", "purge": shown(4.0 + 1e-12 * n, "4 s"), "why": "so"} for n in range(1, 6)]
    assert [len(group) for group in page.alike(rows, "purge", "why")] == [5]
    rows = [row | {"purge": "4 s"} for row in rows]
    assert list(page.counted_on(rows, "name", "purge", "why")) == [
        {"name": "Boiler 1 to 5", "purge": "4 s", "why": "so"}
    ]
    rows[2]["why"] = "another"
    assert [row["name"] for row in page.counted_on(rows, "name", "purge", "why")] == [row["name"] for row in rows]


@pytest.mark.slow
def test_a_plant_of_many_is_told_by_its_worst():
    """All outlets of the page's table, the states of three."""
    found = results.results(STUDIES["swim_hall"])
    many = [
        o | {"appliance": f"Boiler {n}"} for n in range(1, 4 * len(found["outlets"]) + 1) for o in found["outlets"][:1]
    ]
    read = Page(page.html(found | {"outlets": many}, drawn("swim_hall"))).text
    told = read[read.index("Pressure at each outlet over the states") : read.index("Starts, turn-downs and stops")]
    assert all(o["appliance"] in told for o in many)
    assert told.count("Lowest with") == page.LONGEST and "3 outlets with least margin" in told


def test_what_concerns_people_comes_first():
    told = text("school")
    assert told.index("▲ life safety") < told.index("✗ fault") < told.index("advisory")


def test_a_run_is_marked_by_its_lengths():
    runs = {name: html(name).partition('<h2 id="seasons">')[2].partition("<h2")[0] for name in ("laundry", "swim_hall")}
    assert "<b>✗</b> longer than allowed" in runs["laundry"] and "<b>–</b> not stated" in runs["swim_hall"]


def test_a_number_in_a_chapter_says_so_by_its_unit_once():
    low, high = kept("swim_hall")["sections"][0]["velocity"]
    assert f"{low['shown'].removesuffix(' ft/s')} to {high['shown']}" in text("swim_hall")


@pytest.mark.parametrize("name", JOBS)
def test_appendix_holds_the_input_from_which_it_can_be_computed_again(name):
    job = kept(name)["job"]
    assert job["text"].encode() == JOBS[name].read_bytes()
    assert job["sha256"] == hashlib.sha256(JOBS[name].read_bytes()).hexdigest()
    again = job_file.read(job["text"].encode())
    envelopes = outlet_envelope.envelopes(firing_states.scan(again.plant, again.seasons))
    assert [e.high for e in envelopes] == [e.high for e in STUDIES[name].envelopes]
    told = html(name)
    inside = "".join(Page(told[told.index('<pre class="file">') :].partition("</pre>")[0] + "</pre>").words)
    assert inside.lstrip("\n") == job["text"]


@pytest.mark.slow
def test_unsolved_states_are_named():
    found = STUDIES["laundry"]
    converged = found.scan.solution.converged.copy()
    converged[:2] = False
    broken = replace(found, scan=replace(found.scan, solution=replace(found.scan.solution, converged=converged)))
    told = Page(made(broken)).text
    assert told.count("2 conditions not solved") == 2 and found.scan.describe(0) in told  # on page one and its list


# --- Escaping ---

HOSTILE = "<script>alert('x')</script> & \"quotes\" <b>bold</b> {{ 7 * 7 }}"


@pytest.mark.slow
def test_every_input_is_escaped():
    job = JOBS["lodge"].read_text(encoding="utf-8")  # remedies, the one offered, and few states
    note = re.search(r"^note = .*$", job, re.M)[0]
    job = job.replace(note, f"note = '''{HOSTILE}'''  # </pre><script>alert(2)</script>")
    odd = "Boiler_(1): #1/A + B, 80° - new."
    job = job.replace('"Boiler A"', f'"{odd}"').replace('"header"', '"header (1) #1/2 + 3: a, b_c"')
    one = job_file.read(job.encode())
    found = study.study(replace(one, seasons=one.seasons[:1]))
    assert found.outcomes and found.offered
    read = Page(made(found))
    assert not read.faults and "script" not in {tag for tag, _ in read.tags}
    assert HOSTILE in read.text and "49" not in read.text.partition("No, it")[0]
    assert odd in read.text and "header (1) #1/2 + 3: a, b_c" in read.text
    assert results.results(found)["job"]["note"] == HOSTILE


@pytest.mark.parametrize("name", JOBS)
def test_no_finding_is_told_twice(name):
    found, told = STUDIES[name], text(name)
    judged = [f for design in (found, found.proposed) if design for f in design.judgement.findings]
    for sentence in {one_line(findings.sentence(f)) for f in judged}:
        assert told.count(sentence) == 1, sentence
