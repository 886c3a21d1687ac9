"""Batch: many jobs studied side by side, each into a folder of its own, and a page that sums them up.

One broken job stops no other. The work goes through joblib, so that where it runs is the caller's choice:
``with joblib.parallel_config(backend="dask"):`` sends it to a cluster.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from joblib import Parallel, delayed

from ventcalc import words
from ventcalc.job import job_file, study
from ventcalc.show import finding_records, page_one, report, whole_file

CURED, AGAINST, BROKEN = 0, 1, 2  # exit statuses, the worst last
INDEX = "index.html"


@dataclass(frozen=True)
class Done:
    """What came of one job ``file``: exit ``status``, the ``verdict`` in words, titles of what speaks ``against`` it.

    ``build`` is what its page one says to build, by the name of the design, "" where nothing may be; ``margin`` the
    least of the design that page one is about, as shown there. ``remarks``: what the file says and may not mean. Of a
    file that could not be studied the ``problems``.
    Its report is in ``folder``, as seen from the index page.
    """

    file: str
    folder: str
    name: str
    status: int
    verdict: str = ""
    against: tuple[str, ...] = ()
    build: str = ""
    margin: str = ""
    remarks: tuple[str, ...] = ()
    problems: tuple[str, ...] = ()


def job_files(given: Iterable[Path | str]) -> tuple[Path, ...]:
    """Job files among what was given: files as they are, of folders every ``*.toml`` in them; each once.

    Raises FileNotFoundError where a path is not there, or a folder holds no job.
    """
    found: dict[Path, None] = {}
    for path in map(Path, given):
        inside = sorted(path.glob("*.toml")) if path.is_dir() else [path]
        if not path.exists() or not inside:
            raise FileNotFoundError(f"{path}: no job file is there")
        found |= dict.fromkeys(inside)
    return tuple(found)


def run(
    files: Sequence[Path],
    out: Path | str,
    system: str | None = None,
    pdf: bool = False,
    workers: int | None = None,
    told: Callable[[Done], None] = lambda done: None,
) -> tuple[Done, ...]:
    """Study every job into a folder of its name in ``out`` and write the index page; in the order of ``files``.

    ``system``: the units shown, left out those that each file is written in. ``workers``: how many at a time, left out
    as many as there are processors; ``told`` hears of each as it is done.
    Whatever goes wrong with one is told of it and stops no other.
    """
    folders = _folders(files)
    jobs = (delayed(_one)(file, str(out), folder, system, pdf) for file, folder in zip(files, folders, strict=True))
    found = {}
    for done in Parallel(n_jobs=workers or -1, return_as="generator_unordered")(jobs):
        found[done.folder] = done
        told(done)
    every = tuple(found[folder] for folder in folders)
    Path(out).mkdir(parents=True, exist_ok=True)
    whole_file.write(Path(out) / INDEX, index(every))
    return every


def _folders(files: Sequence[Path]) -> tuple[str, ...]:
    """A folder for each file, by its name; two of one name are numbered."""
    found: list[str] = []
    for file in files:
        same = sum(other.stem == file.stem for other in files[: len(found)])
        found.append(file.stem if not same else f"{file.stem}-{same + 1}")
    return tuple(found)


def _one(file: Path, out: str, folder: str, system: str | None, pdf: bool) -> Done:
    try:
        job = job_file.load(file)
        found, system = study.study(job), system or job.system
        report.write(found, Path(out) / folder, system, pdf)
    except job_file.JobError as error:
        return Done(str(file), folder, file.stem, BROKEN, problems=tuple(error.problems))
    except Exception as error:  # a fault of ours or of the machine: it is told, and the other jobs go on
        return Done(str(file), folder, file.stem, BROKEN, problems=(f"{type(error).__name__}: {error}",))
    judged = found.asked or found
    verdict = finding_records.verdict(found)
    titles = tuple(dict.fromkeys(f.title for f in judged.judgement.against))
    own = verdict["offered"] or verdict["sentence"]
    told = " ".join(filter(None, (own, verdict["best"])))
    build = found.to_build.outcome.remedy.name if found.to_build else ""
    margin = page_one.page_one(found, system)["trust"]["margin"]["shown"]
    return Done(
        str(file), folder, job.name, status(found), told, titles, build, margin, words.told(job.remarks, system)
    )


def status(found: study.Study) -> int:
    """The exit status of a study: whether nothing speaks against the design that its job asks for."""
    return CURED if finding_records.verdict(found)["asked"] else AGAINST


_TEMPLATES = Environment(
    loader=FileSystemLoader(Path(__file__).parent / "templates"),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)


def index(every: Sequence[Done]) -> str:
    """The page that sums them up."""
    counts = {status: sum(done.status == status for done in every) for status in (CURED, AGAINST, BROKEN)}
    return _TEMPLATES.get_template("index.html").render(jobs=every, counts=counts)
