"""Handouts: what is kept of a chapter, that nothing is fetched, and, in a Chromium, that nothing is clipped."""

import base64
import os
import re
import shutil
import subprocess
import xml.etree.ElementTree as ElementTree
from html import unescape
from html.parser import HTMLParser

import nbformat
import pytest
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook, new_output
from sample_chapters import CHAPTERS, texts_of

from ventcalc import tables
from ventcalc.__main__ import main
from ventcalc.show import handout, panels
from ventcalc.show.exercises import Exercise
from ventcalc.units import Q_

# One point of color, a whole PNG file in base64.
PIXEL = "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg=="
UNWANTED = "<script src='https://example.org/x.js'></script><link rel='stylesheet' href='https://example.org/x.css'>"
WIDGET = "application/vnd.jupyter.widget-view+json"


class Page(HTMLParser):
    """Tags of a page with their attributes, and every address that a browser would fetch by itself."""

    def __init__(self, html: str):
        super().__init__()
        self.tags: list[tuple[str, dict]] = []
        self.feed(html)

    def handle_starttag(self, tag, attributes):
        self.tags.append((tag, dict(attributes)))

    def count(self, tag: str) -> int:
        return sum(name == tag for name, _ in self.tags)

    @property
    def fetched(self) -> list[str]:
        return [
            a[key] for tag, a in self.tags for key in ("src", "href", "data", "srcset") if a.get(key) and tag != "a"
        ]


def shown(widget) -> dict:
    """What a saved notebook keeps of a widget."""
    return {k: v for k, v in widget._repr_mimebundle_().items() if k in (WIDGET, "text/plain", "text/html")}


@pytest.fixture
def sample(tmp_path):
    """A chapter with one of everything."""
    question = Exercise("How high is 3 < 4?", Q_(1, "m"), Q_(0.1, "m"), ("a hint",), "the solution", example="2 m")
    panel = panels.Panel(
        lambda k: (f"<p>twice is {2 * k}</p>", panels.no_picture()), {"k": panels.choice("k", [1, 2], 2)}
    )
    cells = [
        new_markdown_cell('# 99 · A "sample"\n\nWhere $T_a \\le 3$, see [chapter 14](14_common_vent.ipynb).'),
        new_markdown_cell(
            "## Method\n\n$$ \\frac{f\\,L}{D} $$\n\n`code & more` [web](https://example.org) "
            "![far](https://example.org/x.png)\n\n![near](near.png)\n\n"
            "$$\\begin{aligned} a &= b \\\\ c &= d \\end{aligned}$$\n\n$\\unknowncommand x$"
        ),
        new_code_cell(
            "secret_code()",
            outputs=[
                new_output("stream", name="stdout", text="one <line>\n"),
                new_output("stream", name="stderr", text="a warning"),
                new_output("execute_result", data={"image/png": PIXEL}, metadata={"image/png": {"width": 90}}),
                new_output("execute_result", data={"text/html": f"<table><tr><td>cell</td></tr></table>{UNWANTED}"}),
                new_output("execute_result", data=shown(panel)),
                new_output("execute_result", data=shown(panels.ask(question))),
                new_output("execute_result", data={"application/javascript": "alert(1)"}),
                new_output("execute_result", data={"text/plain": "<plain>"}),
            ],
        ),
    ]  # fmt: skip
    (tmp_path / "near.png").write_bytes(base64.b64decode(PIXEL))
    path = tmp_path / "99_sample.ipynb"
    nbformat.write(new_notebook(cells=cells), path)
    return path


@pytest.fixture(params=["html", "slides"])
def html(request, sample, tmp_path):
    return handout.write(str(sample), request.param, tmp_path / "out").read_text(encoding="utf-8")


def test_code_is_left_out_and_outputs_are_kept(html):
    assert "secret_code" not in html and "a warning" not in html and "alert(1)" not in html
    assert "one &lt;line&gt;" in html and "<td>cell</td>" in html and "&lt;plain&gt;" in html
    # A figure, a file, and the picture that the live controls showed.
    assert html.count("data:image/png;base64,") == 3 and "width: 90px" in html


def test_controls_become_the_numbers_they_had(html):
    assert "<p>twice is 4</p>" in html and WIDGET not in html


def test_an_exercise_becomes_a_question_with_room_and_without_its_answer(html):
    assert re.search(r"<b>Question 1\.</b> How high is 3 &lt; 4\?", html)
    assert html.count('<div class="room">') == 1
    assert "the solution" not in html and "a hint" not in html


@pytest.mark.parametrize("name", ["06", "27"])
def test_the_answer_to_a_prediction_is_no_question_of_the_class(name, tmp_path):
    made = handout.write(name, "html", tmp_path).read_text(encoding="utf-8")
    exercises = len(re.findall(r"(?m)^\[\[question\]\]", _texts(name)))
    assert made.count('<div class="room">') == exercises
    assert re.search(r'<p class="vc-words"[^>]*>[^<]*it is “', made)


def _texts(name: str) -> str:
    """The file of texts of a chapter, by its number."""
    subject = handout.find(name).stem.partition("_")[2]
    return (tables.DATA / "handbook" / f"{subject}.toml").read_text(encoding="utf-8")


def test_nothing_is_fetched_and_nothing_but_our_own_script_runs(html):
    page = Page(html)
    assert [a for a in page.fetched if not a.startswith("data:")] == []
    scripts = [a for tag, a in page.tags if tag == "script"]
    assert len(scripts) <= 1 and all(set(s) == {"nonce"} for s in scripts)
    assert "default-src 'none'" in html
    assert "@import" not in html and "url(" not in html


def test_links_lead_to_the_web_or_nowhere(html):
    assert [a["href"] for tag, a in Page(html).tags if tag == "a"] == ["https://example.org"]
    assert "see chapter 14." in html and "[far]" in html


def test_mathematics_is_mathml_and_what_the_converter_does_not_know_stays_readable(html):
    assert Page(html).count("math") == 3
    assert '<code class="formula">\\unknowncommand x</code>' in html
    assert "$" not in re.sub(r"(?s)<(script|style).*?</\1>", "", html)


def test_title_and_page_numbers(html):
    assert "<title>99 · A &#34;sample&#34;</title>" in html or '<title>99 · A "sample"</title>' in html
    assert "counter(page)" in html or "slides.length" in html


# MathML is the outside truth here: the element for each construction by the W3C Recommendation MathML Core.
@pytest.mark.parametrize(
    ("latex", "path"),
    [
        (r"\frac{a}{b}", "mfrac"),
        (r"\sqrt{r}", "msqrt"),
        (r"x^2", "msup"),
        (r"K_\text{cap}", "msub"),
        (r"\dot m", "mover"),
        (r"\begin{aligned} a &= b \\ c &= d \end{aligned}", "mtable/mtr/mtd"),
    ],
)
def test_mathml(latex, path):
    space = {"m": "http://www.w3.org/1998/Math/MathML"}
    tree = ElementTree.fromstring(handout.mathml(latex, "block"))
    assert tree.get("display") == "block"
    assert tree.find(".//" + "/".join(f"m:{tag}" for tag in path.split("/")), space) is not None


def test_a_long_formula_is_set_smaller():
    assert "font-size" not in handout.mathml("x", "block")
    size = re.search(r'style="font-size: (0\.\d+)em"', handout.mathml("+".join(["xyz"] * 30), "block"))
    assert float(size[1]) == pytest.approx(handout.LONGEST_FORMULA / 119, abs=0.01)


# --- Every chapter ------------------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize("form", ["html", "slides"])
@pytest.mark.parametrize("chapter", CHAPTERS)
def test_every_chapter(chapter, form, tmp_path):
    html = handout.write(chapter, form, tmp_path).read_text(encoding="utf-8")
    page = Page(html)
    assert [a for a in page.fetched if not a.startswith("data:")] == []
    assert 'class="formula"' not in html, "a formula that the converter does not know"
    words = unescape(re.sub(r"<[^>]*>", "", html))
    assert [t for t in texts_of(chapter, taught=form == "slides") if t not in words] == []
    notebook = nbformat.read(handout.find(chapter), as_version=4)
    pictures = [o for c in notebook.cells for o in c.get("outputs", ()) if "image/png" in o.get("data", {})]
    assert page.count("img") >= len(pictures)
    exercises = sum("panels.ask(" in c.source for c in notebook.cells if c.cell_type == "code")
    assert html.count('<div class="room">') >= exercises


def test_there_are_chapters():
    assert "14_common_vent" in CHAPTERS and "00_quick_checks" in CHAPTERS


# --- The command --------------------------------------------------------------------------------------------


def test_the_command_writes_and_says_where(tmp_path, capsys):
    assert main(["handout", "14", "--to", "html", "--out", str(tmp_path / "new")]) == 0
    written = tmp_path / "new" / "14_common_vent.html"
    assert capsys.readouterr().out.strip() == f"Handout: {written}"
    assert written.is_file()


@pytest.mark.parametrize("name", ["99_nothing", "", "00"])
def test_an_unknown_or_doubtful_chapter_lists_the_chapters(name, tmp_path, capsys):
    assert main(["handout", name, "--to", "html", "--out", str(tmp_path / "out")]) == 2
    told = capsys.readouterr().err
    assert all(chapter in told for chapter in CHAPTERS if chapter.startswith(name[:2] if name == "00" else ""))
    assert not (tmp_path / "out").exists()


def test_a_file_that_is_no_notebook_is_refused(tmp_path, capsys):
    (tmp_path / "x.ipynb").write_text("not a notebook")
    assert main(["handout", str(tmp_path / "x.ipynb"), "--to", "html", "--out", str(tmp_path / "out")]) == 2
    assert "is no notebook" in capsys.readouterr().err


@pytest.mark.parametrize(
    "held",
    [b"[]", b"{}", b"7", b'"text"', b"null", b"\xff\xfe", b"", b'{"cells": [], "nbformat": 9, "nbformat_minor": 0}',
             b'{"cells": 7, "nbformat": 4, "nbformat_minor": 5, "metadata": {}}', b'{"cells": [{}], "nbformat": 4}',
             b'{"cells": [], "nbformat": [4]}']
)  # fmt: skip
def test_what_is_no_notebook_is_said_in_words(held, tmp_path, capsys):
    (tmp_path / "odd.ipynb").write_bytes(held)
    assert main(["handout", str(tmp_path / "odd.ipynb"), "--to", "html", "--out", str(tmp_path / "out")]) == 2
    said = capsys.readouterr().err
    assert "odd.ipynb" in said and "Traceback" not in said and len(said) < 400


def test_the_nonce_of_the_slides_is_new_every_time(tmp_path):
    made = [handout.page(handout.find("01"), "slides") for _ in range(2)]
    nonces = [re.findall(r"nonce[-=]\"?([\w-]+)", page) for page in made]
    assert len(set(nonces[0])) == len(set(nonces[1])) == 1 and nonces[0] != nonces[1] and len(nonces[0][0]) > 16


def test_an_out_that_is_a_file_is_refused(tmp_path, capsys):
    (tmp_path / "out").write_text("mine")
    assert main(["handout", "14", "--to", "html", "--out", str(tmp_path / "out")]) == 2
    assert "choose another --out" in capsys.readouterr().err


def test_an_unknown_form_is_refused(tmp_path):
    with pytest.raises(handout.HandoutError, match="slides, html, pdf"):
        handout.write("14", "epub", tmp_path)
    with pytest.raises(SystemExit, match="2"):
        main(["handout", "14", "--to", "epub"])


def test_without_a_chromium_a_pdf_is_refused_in_words(tmp_path, capsys, monkeypatch):
    monkeypatch.setattr(shutil, "which", lambda name: None)
    assert main(["handout", "14", "--to", "pdf", "--out", str(tmp_path)]) == 2
    assert "no Chromium" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


# --- In a Chromium ---------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def chromium():
    """Path of a Chromium; without one the test is skipped, or fails where it is required."""
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if not found:
        reason = "no Chromium on this machine (Debian: apt-get install chromium)"
        (pytest.fail if os.environ.get("VENTCALC_REQUIRE_BROWSER") else pytest.skip)(reason)
    return found


@pytest.mark.slow
def test_pdf(chromium, sample, tmp_path):
    written = handout.write(str(sample), "pdf", tmp_path / "out")
    assert written.name == "99_sample.pdf"
    assert written.read_bytes().startswith(b"%PDF-")


def test_the_printed_page_carries_its_number(chromium, sample, tmp_path):
    reader = shutil.which("pdftotext")
    if not reader:
        pytest.skip("no pdftotext (Debian: apt-get install poppler-utils)")
    written = handout.write(str(sample), "pdf", tmp_path / "out")
    text = subprocess.run([reader, "-layout", str(written), "-"], capture_output=True, text=True).stdout
    assert re.search(r"99 · A 'sample'\s+1 of \d", text)


def test_what_a_chapter_folds_away_is_open_on_paper_and_folded_on_slides():
    paper, slides = (handout.page(handout.find("18"), template) for template in ("handout", "slides"))
    assert paper.count("<details open><summary>") == slides.count("<details><summary>") > 3
    assert "<details>" not in paper and "<details open>" not in slides
