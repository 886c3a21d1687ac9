"""Handout: a chapter as slides, as a page or as a PDF, for a class without notebooks.

What a chapter's saved outputs show is kept: text, tables, pictures. Code is left out, live controls become the
numbers they had when the chapter was run, exercises become questions with room for an answer. One file stands
alone: pictures, style and mathematics (MathML) are inside it and nothing is fetched.
"""

import json
import re
import secrets
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape, unescape
from itertools import count
from pathlib import Path
from typing import Any

import nbformat
from jinja2 import pass_context
from latex2mathml.converter import convert
from nbconvert import HTMLExporter
from nbconvert.filters.markdown_mistune import IPythonRenderer, MarkdownWithMath
from nbformat import NotebookNode

from ventcalc import __version__
from ventcalc.show import printing
from ventcalc.show.lesson import Part
from ventcalc.show.safe_html import safe
from ventcalc.show.unit_choice import CHAPTERS

FORMS = ("slides", "html", "pdf")
TEMPLATES = Path(__file__).parent / "templates"

_SEARCHED = {"00_evidence"}  # a page of a thousand rows: to be searched on a screen, not handed out

LONGEST_FORMULA = 60  # signs of a formula that stand side by side on a printed page; a longer one is set smaller

_WIDGET = "application/vnd.jupyter.widget-view+json"
_NBFORMAT = 4
_REMOTE = ("http://", "https://")


_LEFT_OUT = {"Evidence", "Checked against"}  # headings whose tables are for a reader, not for a class

_CONTROLS = '<div class="controls">'


class HandoutError(ValueError):
    """A handout that cannot be made, and why."""


@dataclass(frozen=True)
class Teaching:
    """What slides have beside the chapter: the trainer's notes, and HTML that stands for the first live panel."""

    parts: Sequence[Part]
    settings: str


def chapters() -> tuple[str, ...]:
    """Names of the chapters that there are, and of the start page."""
    return tuple(sorted(path.stem for path in CHAPTERS.glob("*.ipynb") if path.stem not in _SEARCHED))


def find(chapter: str) -> Path:
    """The file of a chapter by its name or the beginning of it ("14", "14_common_vent"), or by its path.

    Raises `HandoutError` that lists the chapters where none or several fit.
    """
    if chapter.endswith(".ipynb") and Path(chapter).is_file():
        return Path(chapter)
    name = Path(chapter).stem
    fitting = [name] if name in chapters() else [c for c in chapters() if name and c.startswith(name)]
    if len(fitting) == 1:
        return CHAPTERS / f"{fitting[0]}.ipynb"
    problem = f"{chapter!r} fits several chapters" if fitting else f"no chapter {chapter!r}"
    known = (
        ", ".join(fitting or chapters()) or f"none in {CHAPTERS.name}/ (handouts are made in a copy of the repository)"
    )
    raise HandoutError(f"{problem}; there are: {known}")


def write(chapter: str, to: str, out_dir: str | Path = ".", teaching: Teaching | None = None) -> Path:
    """Write a handout of a chapter into a folder and return its file; ``to`` is one of `FORMS`.

    ``teaching`` is for slides; they leave out the tables of evidence.

    Raises `HandoutError` for an unknown chapter or form, and for a PDF where no Chromium is found; OSError where the
    folder cannot be written.
    """
    if to not in FORMS:
        raise HandoutError(f"handout as {to!r}: choose {', '.join(FORMS)}")
    source = find(chapter)
    html = page(source, "slides" if to == "slides" else "handout", teaching)
    out = Path(out_dir)
    out.mkdir(parents=True, exist_ok=True)
    if to == "pdf":
        target = out / f"{source.stem}.pdf"
        if not printing.print_pdf(html, target):
            raise HandoutError(
                "no PDF: no Chromium was found, or it failed (Debian: apt-get install chromium); "
                "make it --to html and print that from a browser"
            )
        return target
    target = out / f"{source.stem}{'_slides' if to == 'slides' else ''}.html"
    target.write_text(html, encoding="utf-8")
    return target


def page(source: Path, template: str, teaching: Teaching | None = None) -> str:
    """One self-contained HTML page of a chapter, by templates/handout.html or templates/slides.html."""
    notebook = read(source)
    shown = still(notebook)
    if template == "slides":
        shown.cells = _with_settings(_for_a_class(shown.cells), teaching.settings if teaching else "")
    exporter = _Exporter(
        template_file=f"{template}.html",
        extra_template_paths=[str(TEMPLATES)],
        embed_images=True,
    )
    resources = {
        "metadata": {"path": str(source.parent), "name": source.stem},
        "title": title(notebook) or source.stem,
        "version": __version__,
        "nonce": secrets.token_urlsafe(16),  # of the one script of the slides: nobody can know it beforehand
        "notes": teaching.parts if teaching else (),
    }
    html = exporter.from_notebook_node(shown, resources)[0]
    return html if template == "slides" else html.replace("<details>", "<details open>")  # paper cannot be opened


def read(source: Path) -> NotebookNode:
    """A notebook of nbformat 4 from its file. Raises `HandoutError` for anything else, saying what it is."""
    data = source.read_bytes()
    try:
        found = json.loads(data)
    except ValueError as error:  # no text, or no JSON
        raise HandoutError(f"{source.name} is no notebook: it is no JSON ({str(error)[:80]})") from None
    if not isinstance(found, dict) or not isinstance(found.get("cells"), list) or "nbformat" not in found:
        raise HandoutError(f"{source.name} is no notebook: it has no cells or no nbformat")
    if found["nbformat"] != _NBFORMAT:
        told = str(found["nbformat"])[:20]
        raise HandoutError(f"{source.name}: nbformat {told}, need {_NBFORMAT}; open it in JupyterLab and save it")
    try:
        notebook = nbformat.v4.reads(data.decode("utf-8-sig"))
        nbformat.validate(notebook)
    except (nbformat.ValidationError, AttributeError, KeyError, TypeError) as error:  # cells that are none
        told = next(iter(str(error).splitlines()), "")[:120]
        raise HandoutError(f"{source.name} is no whole notebook: {told}") from None
    return notebook


def title(notebook: NotebookNode) -> str:
    """The first heading of a notebook, as plain text; empty where it has none."""
    for cell in notebook.cells:
        found = re.search(r"^# +(.+)$", cell.source, re.MULTILINE) if cell.cell_type == "markdown" else None
        if found:
            return found[1].strip()
    return ""


# --- What stands still of a notebook ------------------------------------------------------------------------


def still(notebook: NotebookNode) -> NotebookNode:
    """The notebook without code: in place of each code cell what its outputs show, as HTML in raw cells."""
    questions = count(1)
    cells = []
    for cell in notebook.cells:
        if cell.cell_type == "markdown":
            cells.append(cell)
        elif cell.cell_type == "code":
            parts = (part for output in cell.outputs for part in _shown(output, questions))
            cells += [nbformat.v4.new_raw_cell(part) for part in parts]
    return nbformat.v4.new_notebook(cells=cells, metadata=notebook.metadata)


def headings(source: str) -> list[str]:
    """Headings of level 1 and 2 of a Markdown cell: each begins a slide."""
    return [found.strip() for found in re.findall(r"(?m)^##? +(.+)$", source)]


def _for_a_class(cells: Sequence[NotebookNode]) -> list[NotebookNode]:
    """The cells without what stands under the headings `_LEFT_OUT`."""
    kept, left_out = [], False
    for cell in cells:
        if cell.cell_type != "markdown":
            kept += [] if left_out else [cell]
            continue
        pieces = re.split(r"(?m)^(?=##? )", cell.source)
        told = []
        for piece in pieces:
            begins = headings(piece)
            left_out = begins[0] in _LEFT_OUT if begins else left_out
            told += [] if left_out else [piece]
        kept += [nbformat.v4.new_markdown_cell("".join(told))] if told else []
    return kept


def _with_settings(cells: Sequence[NotebookNode], settings: str) -> list[NotebookNode]:
    """The cells with the settings, if there are any, in place of the first live panel: behind what is said of it."""
    at = next((k for k, cell in enumerate(cells) if cell.source.startswith(_CONTROLS)), None)
    if at is None or not settings:
        return list(cells)
    behind = (k for k, cell in enumerate(cells) if k > at and cell.cell_type == "markdown" and headings(cell.source))
    end = next(behind, len(cells))
    return [*cells[:at], *cells[at + 1 : end], nbformat.v4.new_raw_cell(settings), *cells[end:]]


def _shown(output: NotebookNode, questions: Iterator[int]) -> Iterator[str]:
    """HTML of one output, where it shows anything on paper."""
    if output.output_type == "stream":
        if output.name == "stdout":
            yield f"<pre>{escape(output.text.rstrip())}</pre>"
    elif output.output_type == "error":
        yield f"<pre>{escape(output.ename)}: {escape(output.evalue)}</pre>"
    elif _WIDGET in output.data:
        yield from _controls(output.data, questions)
    else:
        yield from _picture_or_text(output)


def _controls(data: dict[str, Any], questions: Iterator[int]) -> Iterator[str]:
    """Exercises as questions with room to answer, other controls as they stood; how to make them live is left out."""
    plain, html = data.get("text/plain", ""), _ON_SCREEN.sub("", data.get("text/html", ""))
    if 'class="vc-questions"' in html:
        yield from (_question(unescape(text), questions) for text in re.findall(r"<li>(.*?)</li>", html))
    elif 'class="vc-words"' in html:  # a prediction, or its answer
        yield safe(html)
    elif plain and _words(html) == plain:  # so one exercise shows itself: the question, and nothing else
        yield _question(plain, questions)
    elif html:
        label = '<p class="small">Live controls, as they stood when the chapter was run</p>'
        yield f"{_CONTROLS}{label}{safe(html)}</div>"


# What is said to whoever could run the page.
_ON_SCREEN = re.compile(r'<p class="vc-live".*?</p>')


def _question(text: str, questions: Iterator[int]) -> str:
    question = f"<p><b>Question {next(questions)}.</b> {escape(text)}</p>"
    return f'<div class="question">{question}<div class="room"></div></div>'


def _picture_or_text(output: NotebookNode) -> Iterator[str]:
    data = output.data
    for kind in ("image/png", "image/jpeg"):
        if kind in data:
            width = output.get("metadata", {}).get(kind, {}).get("width")
            size = f' style="width: {int(width)}px"' if width else ""
            yield f'<img src="data:{kind};base64,{"".join(data[kind].split())}" alt="figure"{size}>'
            return
    if "text/html" in data:
        yield safe(data["text/html"])
    elif "text/markdown" in data:
        yield markdown(data["text/markdown"])
    elif "text/latex" in data:
        yield mathml(data["text/latex"].strip().strip("$"), "block")
    elif "text/plain" in data:
        yield f"<pre>{escape(data['text/plain'])}</pre>"


def _words(html: str) -> str:
    """The text of HTML without its tags."""
    return unescape(re.sub(r"<[^>]*>", "", html))


# --- Markdown and mathematics ---------------------------------------------------------------------------------


def mathml(latex: str, display: str) -> str:
    """A formula as MathML, ``display`` "inline" or "block"; as it is written where the converter does not know it."""
    # The converter knows align*, which looks the same.
    known = re.sub(r"\{aligned\}", "{align*}", latex)
    try:
        markup = convert(known, display=display)
    except Exception:  # it raises many kinds, its own and IndexError among them
        markup = "\\"
    words = _words(markup)
    if "\\" in words:  # an unknown command comes through as its name
        return f'<code class="formula">{escape(latex)}</code>'
    long = len("".join(words.split())) / LONGEST_FORMULA
    return markup.replace("<math ", f'<math style="font-size: {1 / long:.2f}em" ', 1) if long > 1 else markup


class _Renderer(IPythonRenderer):
    """nbconvert's renderer with MathML, and with nothing that leads away from the page."""

    def inline_math(self, body: str) -> str:
        return mathml(body, "inline")

    def block_math(self, body: str) -> str:
        return mathml(body, "block")

    def latex_environment(self, name: str, body: str) -> str:
        return mathml(rf"\begin{{{name}}}{body}\end{{{name}}}", "block")

    def heading(self, text: str, level: int, **attrs: Any) -> str:
        return f'<h{level} id="{escape(_words(text).replace(" ", "-"))}">{text}</h{level}>\n'

    def link(self, text: str, url: str, title: str | None = None) -> str:
        """A link to the web or within the page; another chapter is no file beside the handout, and only named."""
        return super().link(text, url, title) if url.startswith((*_REMOTE, "#")) else text

    def image(self, text: str, url: str, title: str | None = None) -> str:
        """A picture, put inside the page; one on the web would have to be fetched, and is only named."""
        return f"[{text}]" if url.startswith(_REMOTE) else super().image(text, url, title)


def markdown(source: str, path: str = "", attachments: dict | None = None) -> str:
    """Markdown as HTML; pictures are looked for beside ``path`` and put inside."""
    renderer = _Renderer(escape=False, embed_images=True, exclude_anchor_links=True, path=path, attachments=attachments)
    return safe(MarkdownWithMath(renderer=renderer).render(source))


class _Exporter(HTMLExporter):
    """nbconvert's exporter with the Markdown of this module."""

    @pass_context
    def markdown2html(self, context, source: str) -> str:
        path = context.get("resources", {}).get("metadata", {}).get("path", "")
        return markdown(source, path, context.get("cell", {}).get("attachments"))
