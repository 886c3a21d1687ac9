"""The report: one page that stands alone, numbers that are the study's, and nothing half-written."""

import base64
import hashlib
import json
import os
import re
import shutil
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pytest
from sample_studies import STUDIES

from ventcalc import __version__, tables
from ventcalc.draft import start_sequence
from ventcalc.job import findings, job_file, remedy_words, study
from ventcalc.show import report
from ventcalc.units import SYSTEMS
from ventcalc.vent import firing_states

JOBS = {p.stem: p for p in sorted((tables.DATA / "jobs").glob("*.toml"))}
WRITTEN = [*((name, "US") for name in STUDIES), ("swim_hall", "SI")]
VOID = {"meta", "img", "br", "hr", "link", "input"}

# NIST SP 811 (2008), appendix B.8: inch of water (39.2 °F) 249.082 Pa, conventional 249.0889 Pa.
INCH_OF_WATER = 249.0889


class Page(HTMLParser):
    """A page read tag by tag: what is open, attributes, words."""

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.open, self.tags, self.words, self.faults = [], [], [], []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag, attributes):
        self.tags.append((tag, dict(attributes)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            self.faults.append((tag, self.getpos()))

    def handle_data(self, data):
        if "style" not in self.open:
            self.words.append(data)

    @property
    def text(self):
        return re.sub(r"\s+", " ", " ".join(self.words))


@pytest.fixture(params=STUDIES, ids=str)
def found(request):
    return STUDIES[request.param]


@pytest.fixture(scope="module")
def folders(tmp_path_factory):
    """The reports of all demo jobs, one of them in both unit systems, as (job, system) -> folder."""
    made = {}
    for name, system in WRITTEN:
        made[name, system] = tmp_path_factory.mktemp("reports") / f"{name}_{system}"
        report.write(STUDIES[name], made[name, system], system)
    return made


@pytest.fixture(params=WRITTEN, ids="-".join)
def folder(request, folders):
    return folders[request.param]


def test_page_is_well_formed_and_stands_alone(folder):
    text = (folder / "report.html").read_text(encoding="utf-8")
    page = Page(text)
    assert not page.faults and not page.open
    named = ("src", "href", "srcset", "action")
    addresses = [v for _, attributes in page.tags for k, v in attributes.items() if k in named]
    assert addresses and all(a.startswith(("data:image/png;base64,", "#")) for a in addresses)
    assert not {tag for tag, _ in page.tags} & {"script", "link", "iframe", "object", "embed", "base", "form"}
    assert not re.search(r"url\(|@import", text)
    policy = next(a["content"] for t, a in page.tags if t == "meta" and "http-equiv" in a)
    assert policy.startswith("default-src 'none'")
    assert {a["href"][1:] for t, a in page.tags if t == "a"} <= {a.get("id") for _, a in page.tags}


def test_pictures_are_whole_and_told_in_words(folder):
    pictures = [a for t, a in Page((folder / "report.html").read_text(encoding="utf-8")).tags if t == "img"]
    found = json.loads((folder / "results.json").read_text(encoding="utf-8"))
    of_remedies = bool(found["remedies"]) + (3 if found["offered"] else 0)
    around = len(found["around"]["terminals"]) + len(found["around"]["spills"])
    assert len(pictures) == 6 + of_remedies + around
    for attributes in pictures:
        data = base64.b64decode(attributes["src"].partition(",")[2], validate=True)
        assert data.startswith(b"\x89PNG") and data[-8:-4] == b"IEND"  # ISO/IEC 15948: the last chunk
        assert len(attributes["alt"]) > 60


@pytest.mark.parametrize(("name", "system"), WRITTEN)
def test_page_says_what_the_study_found(name, system, folders):
    found = STUDIES[name]
    text = Page((folders[name, system] / "report.html").read_text(encoding="utf-8")).text
    for f in found.judgement.findings:
        assert re.sub(r"\s+", " ", findings.sentence(f, system)) in text
    for sentence in (*study.sources(found), *study.CAUTIONS, report.CONVENTION, *found.job.defaults):
        assert re.sub(r"\s+", " ", sentence) in text
    assert found.job.digest in text and __version__ in text


def test_page_keeps_its_order(folder):
    text = (folder / "report.html").read_text(encoding="utf-8")
    parts = (
        "found outlets figure-1 figure-5 draft remedies offered alternates sections appliances seasons runs around "
        "assumptions sources cautions"
    )
    marks = ['class="verdict"', "Sign of pressures", *(f'id="{part}"' for part in parts.split()), 'id="appendix"']
    places = [text.index(mark) for mark in marks]
    assert places == sorted(places)


def test_page_tells_every_remedy_with_its_reasons(found, folders):
    """None is hidden, cured or not; where none cures it the page says so."""
    name = next(n for n, s in STUDIES.items() if s is found)
    text = Page((folders[name, "US"] / "report.html").read_text(encoding="utf-8")).text
    for o in found.outcomes:
        assert o.remedy.name in text and remedy_words.words(o.remedy) in text
        assert all(re.sub(r"\s+", " ", reason) in text for reason in remedy_words.reasons(o))
    assert ("None of these cures it" in text) == (bool(found.outcomes) and not any(o.cured for o in found.outcomes))


def test_page_tells_what_the_offered_remedy_leaves_and_how_it_is_set(folders):
    with_it = STUDIES["swim_hall"].offered
    text = Page((folders["swim_hall", "US"] / "report.html").read_text(encoding="utf-8")).text
    told = report.verdict(STUDIES["swim_hall"])["offered"]
    assert told.startswith("With the remedy offered (fan and damper)") and told in text
    assert ("nothing that was checked speaks against it" in told) == with_it.judgement.cured
    for f in with_it.judgement.findings:
        assert re.sub(r"\s+", " ", findings.sentence(f)) in text
    for row in start_sequence.startup_sheet(with_it.trial.settings):
        assert row.name in text and start_sequence.shown(row.value) in text
    kept = json.loads((folders["swim_hall", "US"] / "results.json").read_text(encoding="utf-8"))["offered"]
    duty = with_it.outcome.duty
    assert max(d["speed"][1]["value"] for d in kept["duty"]) == pytest.approx(duty.speed.max())
    assert sum(d["states"] for d in kept["duty"]) == duty.states.size
    assert [o["inside"] for o in kept["outlets"]] == [True] * 3
    left = Page((folders["lodge", "US"] / "report.html").read_text(encoding="utf-8")).text
    told = report.verdict(STUDIES["lodge"])["offered"]
    assert told.startswith("With the remedy offered (fan and damper)") and told in left
    assert "material" in {f.code for f in STUDIES["lodge"].offered.judgement.against}  # its roof piece is wet


def test_what_concerns_people_comes_first():
    text = Page(report.page(report.results(STUDIES["school"]), report.figures(STUDIES["school"]))).text
    assert text.index("▲ life safety") < text.index("✗ fault") < text.index("advisory")


def test_appendix_holds_the_input_from_which_it_can_be_computed_again(found, folders):
    name = next(n for n, s in STUDIES.items() if s is found)
    kept = json.loads((folders[name, "US"] / "results.json").read_text(encoding="utf-8"))["job"]
    assert kept["text"].encode() == JOBS[name].read_bytes()
    assert kept["sha256"] == hashlib.sha256(JOBS[name].read_bytes()).hexdigest()
    again = study.study(job_file.read(kept["text"].encode()), compare=False)  # the pressures do not hang on remedies
    assert [e.high for e in again.envelopes] == [e.high for e in found.envelopes]
    html = (folders[name, "US"] / "report.html").read_text(encoding="utf-8")
    inside = "".join(Page(html[html.index("<pre>") :].partition("</pre>")[0] + "</pre>").words)
    assert inside.lstrip("\n") == kept["text"]


# --- The numbers ---


def numbers(data, path=""):
    """Every {"value", "unit", "shown"} with its path."""
    if isinstance(data, dict) and set(data) == {"value", "unit", "shown"}:
        yield path, data
    elif isinstance(data, dict):
        for key, value in data.items():
            yield from numbers(value, f"{path}.{key}")
    elif isinstance(data, list):
        for k, value in enumerate(data):
            yield from numbers(value, f"{path}[{k}]")


def refuse(word):
    raise ValueError(f"{word} is not JSON (RFC 8259, section 6)")


def test_results_are_strict_json(folder):
    data = json.loads((folder / "results.json").read_text(encoding="utf-8"), parse_constant=refuse)
    assert data["schema"] == report.SCHEMA
    assert set(data) <= set(re.findall(r"\w+", report.__doc__))  # every key stands in the schema
    for _, number in numbers(data):
        assert number["unit"] and number["shown"]


def test_numbers_are_those_of_the_study(found):
    data = report.results(found)
    for told, e in zip(data["outlets"], found.envelopes, strict=True):
        assert (told["low"]["value"], told["high"]["value"], told["margin"]["value"]) == (e.low, e.high, e.margin)
        assert told["low_state"]["words"] == found.scan.describe(e.low_state)
    for told, met in zip(data["sections"], found.extremes, strict=True):
        assert [v["value"] for v in told["velocity"]] == list(met.velocity)
        assert [p["value"] for p in told["pressure"]] == list(met.pressure)
        assert told["condensate"]["value"] == met.condensate
    assert [r["flow"]["value"] for r in data["reversals"]] == [r.flow for r in found.reversals]
    assert (data["header"]["low"]["value"], data["header"]["high"]["value"]) == found.header
    assert data["verdict"]["buildable"] == found.buildable
    # Each condition once; one that can come to rest in several ways has several columns.
    assert data["scan"]["solved"] == len(np.unique(found.scan.condition)) == data["scan"]["possible"]


def test_states_outside_are_counted_from_the_pressures(found):
    for i, told in enumerate(report.results(found)["outlets"]):
        low, high = (w["value"] for w in told["window"])
        runs = found.scan.states.codes[i] > 0
        pressures, conditions = (
            v[runs].tolist() for v in (found.scan.solution.outlet_pressure[i], found.scan.condition)
        )
        # A condition counts once, by the worst of its roots, and by what can be read (`firing_states.READABLE`).
        edge = firing_states.READABLE
        outside = {c for p, c in zip(pressures, conditions, strict=True) if p < low - edge or p > high + edge}
        assert told["outside"] == len(outside)
        assert told["inside"] == (told["outside"] == 0)


def test_flue_gas_flows_add_up_to_what_the_stack_carries():
    """All boilers high on the swimming hall: the stack carries the sum of the three flows (conservation of mass)."""
    found = STUDIES["swim_hall"]
    codes = found.scan.states.codes
    high = np.array([len(a.states) - 1 for a in found.job.plant.appliances])
    season = [s.name for s in found.job.seasons].index("mild")
    state = int(np.flatnonzero((high == codes.T).all(axis=1) & (found.scan.states.season == season))[0])
    levels = [a["levels"][-1]["flow"] for a in report.results(found)["appliances"]]
    low, top = (sum(flow[k]["value"] for flow in levels) for k in (0, 1))
    assert low <= found.scan.solution.flow[found.scan.solution.row("stack"), state] <= top


def test_unit_systems_agree(found):
    us, si = (dict(numbers(report.results(found, system))) for system in SYSTEMS)
    assert us.keys() == si.keys()
    assert all(us[path]["value"] == si[path]["value"] and us[path]["unit"] == si[path]["unit"] for path in us)
    for path, number in us.items():
        if number["unit"] == "Pa" and "in. w.c." in number["shown"] and number["value"] is not None:
            inches = float(number["shown"].split(" ")[0].replace(",", ""))
            assert inches * INCH_OF_WATER == pytest.approx(number["value"], abs=0.0006 * INCH_OF_WATER), path
    for path, number in si.items():
        if number["unit"] == "K" and number["value"] is not None:
            assert float(number["shown"].split(" ")[0]) == pytest.approx(number["value"] - 273.15, abs=0.51), path


def test_a_number_that_is_none_is_null():
    run = report.results(STUDIES["swim_hall"])["runs"][0]
    assert run["allowed"] == {"value": None, "unit": "m", "shown": "–"} and run["verdict"] == "not stated"
    assert report.results(STUDIES["laundry"])["runs"][0]["verdict"] == "longer than allowed"


# --- Verdict ---


def test_verdict_of_a_dangerous_and_of_a_faulty_job():
    assert report.verdict(STUDIES["swim_hall"])["sentence"].startswith(
        "No, it is not safe to build as drawn: 1 danger to people"  # three boilers that leak backward: one cause
    )
    laundry = report.verdict(STUDIES["laundry"])
    # Too long, above its window against the wind, and below it where the terminal stands in the lee.
    assert laundry["sentence"] == "No, it should not be built as drawn: 3 faults were found."
    assert (laundry["people"], laundry["faults"], laundry["buildable"]) == (0, 3, False)


def test_verdict_claims_no_more_than_was_checked():
    laundry = JOBS["laundry"].read_text(encoding="utf-8")
    mended = laundry.replace('window = ["-0.03 inH2O", "0.40 inH2O"]', 'window = ["-2 inH2O", "4 inH2O"]')
    found = study.study(job_file.read(mended.replace('longest_run = "85 ft"', 'longest_run = "200 ft"').encode()))
    assert report.verdict(found)["sentence"] == "Nothing that was checked speaks against building it as drawn."
    page = Page(report.page(report.results(found), report.figures(found))).text
    assert all(words in page for words in report.NOT_CHECKED)


def test_unsolved_states_are_named():
    found = STUDIES["laundry"]
    converged = found.scan.solution.converged.copy()
    converged[:2] = False
    solution = replace(found.scan.solution, converged=converged)
    broken = replace(found, scan=replace(found.scan, solution=solution))
    data = report.results(broken)
    assert data["scan"]["unsolved_count"] == 2
    text = Page(report.page(data, report.figures(broken))).text
    assert "Operating conditions that did not converge" in text and found.scan.describe(0) in text


# --- Escaping ---

HOSTILE = "<script>alert('x')</script> & \"quotes\" <b>bold</b> {{ 7 * 7 }}"


def test_every_input_is_escaped(tmp_path):
    text = JOBS["lodge"].read_text(encoding="utf-8")  # remedies, the one offered, and few states
    note = re.search(r"^note = .*$", text, re.M)[0]
    text = text.replace(note, f"note = '''{HOSTILE}'''  # </pre><script>alert(2)</script>")
    odd = "Boiler_(1): #1/A + B, 80° - new."
    text = text.replace('"Boiler A"', f'"{odd}"').replace('"header"', '"header (1) #1/2 + 3: a, b_c"')
    found = study.study(job_file.read(text.encode()))
    report.write(found, tmp_path / "out")
    page = Page((tmp_path / "out" / "report.html").read_text(encoding="utf-8"))
    assert not page.faults and "script" not in {tag for tag, _ in page.tags}
    assert HOSTILE in page.text and "49" not in page.text.partition("Safe to build")[0]
    assert odd in page.text and "header (1) #1/2 + 3: a, b_c" in page.text
    assert json.loads((tmp_path / "out" / "results.json").read_text(encoding="utf-8"))["job"]["note"] == HOSTILE


# --- Writing ---


def test_nothing_is_left_of_a_report_that_failed(tmp_path, monkeypatch):
    def fail(*_):
        raise RuntimeError("drawing failed")

    monkeypatch.setattr(report, "page", fail)
    with pytest.raises(RuntimeError):
        report.write(STUDIES["laundry"], tmp_path / "out")
    assert list(tmp_path.iterdir()) == []


def test_a_failed_report_leaves_the_earlier_one_whole(tmp_path, monkeypatch):
    report.write(STUDIES["laundry"], tmp_path / "out")
    before = {p.name: p.read_bytes() for p in (tmp_path / "out").iterdir()}
    monkeypatch.setattr(report, "figures", lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        report.write(STUDIES["lodge"], tmp_path / "out")
    assert {p.name: p.read_bytes() for p in (tmp_path / "out").iterdir()} == before
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


def test_a_folder_in_use_keeps_other_files_but_no_stale_pdf(tmp_path):
    out = tmp_path / "out"
    out.mkdir()
    (out / "notes.txt").write_text("mine")
    (out / "report.pdf").write_bytes(b"of an earlier study")
    written = report.write(STUDIES["laundry"], out)
    assert sorted(p.name for p in out.iterdir()) == ["notes.txt", "report.html", "results.json"]
    assert written.pdf is None and written.page.is_file() and (out / "notes.txt").read_text() == "mine"


def test_folders_on_the_way_are_made_and_a_file_is_refused(tmp_path):
    assert report.write(STUDIES["laundry"], tmp_path / "a" / "b").page == tmp_path / "a" / "b" / "report.html"
    (tmp_path / "file").write_text("x")
    with pytest.raises(NotADirectoryError):
        report.write(STUDIES["laundry"], tmp_path / "file")


def test_without_a_browser_there_is_no_pdf_and_no_error(tmp_path, monkeypatch):
    monkeypatch.setattr(report.shutil, "which", lambda _: None)
    assert report.write(STUDIES["laundry"], tmp_path / "out", pdf=True).pdf is None


# ISO 216: A4 is 210 mm by 297 mm; ANSI/ASME Y14.1: size A (letter) is 8.5 in. by 11 in.
PAPER = {"SI": (210 / 25.4 * 72, 297 / 25.4 * 72), "US": (8.5 * 72, 11.0 * 72)}


@pytest.mark.parametrize("system", SYSTEMS)
def test_pdf_is_printed_on_the_paper_of_the_system(tmp_path, system):
    if not (shutil.which("chromium") or shutil.which("chromium-browser")):
        (pytest.fail if os.environ.get("VENTCALC_REQUIRE_BROWSER") else pytest.skip)("no Chromium on this machine")
    written = report.write(STUDIES["laundry"], tmp_path / "out", system, pdf=True)
    data = written.pdf.read_bytes()
    assert data.startswith(b"%PDF-") and b"%%EOF" in data[-32:]
    boxes = {tuple(float(v) for v in m.split()) for m in re.findall(rb"/MediaBox\s*\[([^\]]*)\]", data)}
    assert len(boxes) == 1 and boxes.pop()[2:] == pytest.approx(PAPER[system], abs=0.5)
    assert 5 < len(re.findall(rb"/Type\s*/Page\b", data)) < 25
