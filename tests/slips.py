"""Slips of the kind an engineer makes, put into a copy of the library one at a time: do the tests notice?

    python tests/slips.py              the slips planted by hand
    python tests/slips.py mutants      so many slips drawn from each module, always the same ones
    python tests/slips.py fan_ vent_   only what concerns files whose path holds one of these words
    python tests/slips.py --each 4     draws so many of each module
    python tests/slips.py --seed 8     draws others
    python tests/slips.py --slow       tests that are marked slow run as well, which an ordinary run leaves out

Prints caught or survived, and the figure. Nothing in this tree is touched.
"""

import argparse
import ast
import csv
import gc
import importlib
import os
import random
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Iterator
from copy import deepcopy
from functools import cache
from itertools import accumulate
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).parent.parent
EACH, SEED = 12, 7  # slips that are drawn of one module
PATIENCE, COMPILING = 90, 300  # s; tests that hang have noticed; longer where machine code is made first
QUIETLY = ("-x", "-q", "--assert=plain", "-p", "no:cacheprovider", "-o", "addopts=")
QUICK, ALL = "not slow and not sweep", "not sweep"  # tests that run: those of an ordinary run, or the slow ones too
LIBRARIES = ("cantera", "hypothesis", "matplotlib.pyplot", "numba", "pint", "pydantic", "pytest", "scipy.optimize")


class Slip(NamedTuple):
    """One wrong line of a ``file``: what stands there, what a slip makes of it, and the ``tests`` nearest to it."""

    file: str
    old: str
    new: str
    tests: str

    def planted(self) -> str:
        """The file's text with the slip in it; raises ValueError where what it replaces no longer stands there once."""
        text = (ROOT / self.file).read_text(encoding="utf-8")
        if text.count(self.old) != 1:
            raise ValueError(f"{self.file}: {text.count(self.old)} times {self.old!r}")
        return text.replace(self.old, self.new)


def listed() -> tuple[Slip, ...]:
    """The slips of slips.csv."""
    with Path(__file__).with_suffix(".csv").open(encoding="utf-8", newline="") as file:
        return tuple(Slip(**row) for row in csv.DictReader(line for line in file if not line.startswith("#")))


# Parts whose modules hold verdicts or physics; each is tested by the file of the same name, and some by others too.
PARTS = ("gas", "flow", "vent", "draft", "building", "job")
FINDINGS = "tests/job/test_doctored_findings.py tests/job/test_findings.py"
FURTHER = {
    **{f"ventcalc/job/{name}_findings.py": FINDINGS for name in (
        "device", "draft", "outlet", "spillage", "start", "surrounding", "vent")},
    "ventcalc/job/judgement.py": FINDINGS,
    "ventcalc/building/clearance_rules.py": "tests/building/test_clearances.py",
    "ventcalc/building/co_limits.py": "tests/building/test_co_exposure.py",
    "ventcalc/draft/start_sequence.py": "tests/draft/test_start_proof.py",
}  # fmt: skip


def nearest() -> dict[str, str]:
    """Every module of `PARTS` and the tests nearest to it."""
    found = {}
    for part in PARTS:
        for path in sorted((ROOT / "ventcalc" / part).glob("*.py")):
            file, own = path.relative_to(ROOT).as_posix(), f"tests/{part}/test_{path.name}"
            if (ROOT / own).exists():
                found[file] = f"{own} {FURTHER.get(file, '')}".strip()
    return found


# What a slip makes of one operator, name, word.
OPERATORS = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.And: ast.Or, ast.Or: ast.And,
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.In: ast.NotIn, ast.NotIn: ast.In, ast.Is: ast.IsNot, ast.IsNot: ast.Is,
}  # fmt: skip
_PAIRS = (
    "max min, any all, argmax argmin, maximum minimum, high low, above below, FAIL PASS, harmful failed, nanmin mean"
)
NAMES = {a: b for pair in _PAIRS.split(", ") for a, b in (pair.split(), pair.split()[::-1])}


def slipped(node: ast.AST) -> ast.AST | None:
    """A node with one slip in it, or None where it offers none."""
    match node:
        case ast.BinOp(op=op) | ast.BoolOp(op=op) if type(op) in OPERATORS:
            node.op = OPERATORS[type(op)]()
        case ast.Compare(ops=[op]) if type(op) in OPERATORS:
            node.ops = [OPERATORS[type(op)]()]
        case ast.UnaryOp(op=ast.Not() | ast.USub() | ast.Invert()):
            return node.operand
        case ast.Name(id=name) if name in NAMES:
            node.id = NAMES[name]
        case ast.Attribute(attr=name) if name in NAMES:
            node.attr = NAMES[name]
        case ast.Constant(value=bool(value)):
            node.value = not value
        case ast.Constant(value=int(value)):
            node.value = value + 1
        case ast.Constant(value=float(value)):
            node.value = 1.1 * value if value else 1e-3
        case ast.Constant(value=str(value)) if value in NAMES:
            node.value = NAMES[value]
        case _:
            return None
    return node


def mutants(file: str) -> Iterator[tuple[str, str]]:
    """Every slip that a file offers, as the text around it and the whole text with it."""
    text = (ROOT / file).read_text(encoding="utf-8")
    raw, tree = text.encode(), ast.parse(text)
    starts = [0, *accumulate(map(len, raw.splitlines(keepends=True)))]
    aside = {id(n) for each in ast.walk(tree) for n in _aside(each)}
    for node in ast.walk(tree):
        if id(node) in aside or not isinstance(node, ast.expr):
            continue
        old, changed = ast.unparse(node), slipped(deepcopy(node))
        if changed is None or ast.unparse(changed) == old:
            continue
        first = starts[node.lineno - 1] + node.col_offset
        last = starts[node.end_lineno - 1] + node.end_col_offset
        new = ast.unparse(changed)
        new = f"({new})" if isinstance(changed, (ast.BinOp, ast.BoolOp, ast.Compare)) else new
        yield f"line {node.lineno}: {old} -> {new}", (raw[:first] + new.encode() + raw[last:]).decode()


def _aside(node: ast.AST) -> list[ast.AST]:
    """What of a node is no verdict: annotations, what decorates, what an error says, and text with figures in it."""
    if isinstance(node, ast.JoinedStr):
        return list(ast.walk(node))
    kept = []
    for part in ("annotation", "returns", "decorator_list", "exc"):
        value = getattr(node, part, None) or []
        kept += [n for each in (value if isinstance(value, list) else [value]) for n in ast.walk(each)]
    return kept


def caught(file: str, text: str, tests: str, marked: str, copy: Path) -> bool:
    """Whether the tests fail with this text in the file; in a process of its own, which finds the libraries loaded."""
    target = copy / file
    whole = target.read_bytes()
    target.write_text(text, encoding="utf-8")
    solver = "from ventcalc.compiled import" in text  # what is machine code is compiled anew
    stale = set(modules(copy)) if solver or not file.endswith(".py") else importers(copy, file)
    try:
        child = os.fork()
        if child == 0:
            os.setsid()
            os._exit(_tested(stale, tests.split(), marked, solver))
        ended, began = (0, 0), time.monotonic()
        while ended[0] == 0 and time.monotonic() - began < (COMPILING if solver else PATIENCE):
            time.sleep(0.02)
            ended = os.waitpid(child, os.WNOHANG)
        if ended[0] == 0:
            os.killpg(child, signal.SIGKILL)
            os.waitpid(child, 0)
            return True
        return ended[1] != 0
    finally:
        target.write_bytes(whole)


def modules(tree: Path) -> dict[str, Path]:
    """The library's modules by name."""
    found = (path.relative_to(tree) for path in (tree / "ventcalc").rglob("*.py"))
    return {".".join(p.with_suffix("").parts).removesuffix(".__init__"): tree / p for p in found}


def importers(tree: Path, file: str) -> set[str]:
    """The module of a file and all that import it, or import what does."""
    every, found = modules(tree), {file.removesuffix(".py").replace("/", ".")}
    asked = {name: _imported(path) for name, path in every.items()}
    while more := {name for name, wanted in asked.items() if wanted & found} - found:
        found |= more
    return found


@cache
def _imported(path: Path) -> set[str]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    asked = [n for n in ast.walk(tree) if isinstance(n, ast.ImportFrom) and n.module]
    return {n.module for n in asked} | {f"{n.module}.{a.name}" for n in asked for a in n.names}


def _tested(stale: set[str], tests: list[str], marked: str, solver: bool) -> int:
    """What pytest says, as an exit status. Of the library only what is ``stale`` is loaded anew."""
    import pytest

    silent = os.open(os.devnull, os.O_WRONLY)
    os.dup2(silent, 1)
    os.dup2(silent, 2)
    for name in stale & set(sys.modules):
        del sys.modules[name]
        above, _, own = name.rpartition(".")
        if above in sys.modules and hasattr(sys.modules[above], own):
            delattr(sys.modules[above], own)
    if not solver and "ventcalc.compiled" not in sys.modules:
        importlib.import_module("ventcalc.compiled")._fingerprint = lambda: "slips"
    there = [t for t in tests if Path(t).exists()]
    passed = pytest.ExitCode.OK, pytest.ExitCode.NO_TESTS_COLLECTED  # where all are marked, none notices
    return int(pytest.main([*QUIETLY, "-m", marked, *there]) not in passed)


def drawn(words: list[str], each: int = EACH, seed: int = SEED) -> list[tuple[str, str, str, str]]:
    """Slips drawn from all modules: file, words, text, tests. What is drawn of one rests on it alone."""
    found = []
    for file, tests in nearest().items():
        if not words or any(w in file for w in words):
            every = list(mutants(file))
            picked = random.Random(f"{seed} {file}").sample(range(len(every)), min(each, len(every)))
            found += [(file, *every[k], tests) for k in sorted(picked)]
    return found


def planted(words: list[str]) -> list[tuple[str, str, str, str]]:
    """The slips planted by hand: file, words, text, tests."""
    return [
        (s.file, f"{s.old} -> {s.new}", s.planted(), s.tests)
        for s in listed()
        if not words or any(w in s.file for w in words)
    ]


def main(arguments: list[str]) -> None:
    """Try them all and print the figure."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("words", nargs="*")
    asked.add_argument("--slow", action="store_true")
    asked.add_argument("--each", type=int, default=EACH)
    asked.add_argument("--seed", type=int, default=SEED)
    asked = asked.parse_args(arguments)
    words = [w for w in asked.words if w != "mutants"]
    tried = drawn(words, asked.each, asked.seed) if "mutants" in asked.words else planted(words)
    marked = ALL if asked.slow else QUICK
    sys.dont_write_bytecode = True
    os.environ["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = "1"
    for library in LIBRARIES:
        importlib.import_module(library)  # once for all
    found, sound = [], set()
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "tree"
        for part in ("ventcalc", "data", "tests"):
            shutil.copytree(ROOT / part, copy / part, ignore=shutil.ignore_patterns("__pycache__"))
        shutil.copy(ROOT / "pyproject.toml", copy)
        os.chdir(copy)
        sys.path[:0] = [str(copy), str(copy / "tests")]
        importlib.import_module("ventcalc.compiled")._fingerprint = lambda: "slips"  # keep the solver's machine code
        for name in modules(copy):
            if not name.endswith("__main__"):
                importlib.import_module(name)
        gc.freeze()  # a child has nothing to collect of all this
        for file, said, text, tests in tried:
            if tests not in sound and caught(file, (ROOT / file).read_text(encoding="utf-8"), tests, marked, copy):
                raise SystemExit(f"the tests fail without a slip: {tests}")
            sound.add(tests)
            found.append(caught(file, text, tests, marked, copy))
            print(f"{'caught  ' if found[-1] else 'SURVIVED'} {file}: {said}", flush=True)
    print(f"{sum(found)} of {len(found)} caught")


if __name__ == "__main__":
    main(sys.argv[1:])
