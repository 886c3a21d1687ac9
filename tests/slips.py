"""Slips of the kind an engineer makes, put into a copy of the library one at a time: do the tests notice?

    python tests/slips.py            the slips planted by hand
    python tests/slips.py mutants    so many slips drawn from the modules that hold verdicts, always the same ones
    python tests/slips.py fan_ vent_   only what concerns files whose path holds one of these words

Prints caught or survived, and the figure. Nothing in this tree is touched.
"""

import ast
import csv
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
COUNT, SEED = 160, 7  # of the slips that are drawn
PATIENCE = 90  # s; tests that hang have noticed
QUIETLY = ("-x", "-q", "-n", "0", "-p", "no:cacheprovider", "-p", "no:nbval", "-o", "addopts=", "-m", "not sweep")
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


# Modules that hold verdicts, and the tests nearest to them.
FINDINGS = "tests/job/test_doctored_findings.py tests/job/test_findings.py"
VERDICTS = {
    **{f"ventcalc/job/{name}_findings.py": FINDINGS for name in (
        "device", "draft", "outlet", "spillage", "start", "surrounding", "vent")},
    "ventcalc/job/chance_findings.py": "tests/job/test_chance_findings.py",
    "ventcalc/job/year_findings.py": "tests/job/test_year_findings.py",
    "ventcalc/job/judgement.py": FINDINGS,
    "ventcalc/building/clearances.py": "tests/building/test_clearances.py",
    "ventcalc/building/clearance_rules.py": "tests/building/test_clearance_rules.py tests/building/test_clearances.py",
    "ventcalc/building/co_limits.py": "tests/building/test_co_limits.py tests/building/test_co_exposure.py",
    "ventcalc/building/combustion_air_verdicts.py": "tests/building/test_combustion_air_verdicts.py",
    "ventcalc/building/spillage.py": "tests/building/test_spillage.py",
    "ventcalc/draft/start_sequence.py": "tests/draft/test_start_sequence.py tests/draft/test_start_proof.py",
    "ventcalc/draft/start_proof.py": "tests/draft/test_start_proof.py",
    "ventcalc/draft/fan_limits.py": "tests/draft/test_fan_limits.py",
    "ventcalc/draft/damper_sizing.py": "tests/draft/test_damper_sizing.py",
}  # fmt: skip

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


def caught(file: str, text: str, tests: str, copy: Path) -> bool:
    """Whether the tests fail with this text in the file; in a process of its own, which finds the libraries loaded."""
    target = copy / file
    whole = target.read_bytes()
    target.write_text(text, encoding="utf-8")
    try:
        child = os.fork()
        if child == 0:
            os.setsid()
            os._exit(_tested(copy, file, tests.split(), solver="law(" in text or "loop(" in text))
        ended, began = (0, 0), time.monotonic()
        while ended[0] == 0 and time.monotonic() - began < PATIENCE:
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


def _tested(copy: Path, file: str, tests: list[str], solver: bool) -> int:
    """What pytest says, as an exit status. Of the library only what rests on the file is loaded anew."""
    import pytest

    silent = os.open(os.devnull, os.O_WRONLY)
    os.dup2(silent, 1)
    os.dup2(silent, 2)
    stale = set(modules(copy)) if solver or not file.endswith(".py") else importers(copy, file)
    for name in stale & set(sys.modules):
        del sys.modules[name]
        above, _, own = name.rpartition(".")
        if above in sys.modules and hasattr(sys.modules[above], own):
            delattr(sys.modules[above], own)
    if not solver and "ventcalc.compiled" not in sys.modules:
        importlib.import_module("ventcalc.compiled")._fingerprint = lambda: "slips"
    there = [t for t in tests if Path(t).exists()]
    return int(pytest.main([*QUIETLY, *there]) != 0)


def drawn(words: tuple[str, ...] = ()) -> list[tuple[str, str, str, str]]:
    """Slips drawn from the modules that hold verdicts: file, words, text, tests."""
    every = [(file, said, text, tests) for file, tests in VERDICTS.items() for said, text in mutants(file)]
    picked = random.Random(SEED).sample(every, min(COUNT, len(every)))
    return sorted((p for p in picked if not words or any(w in p[0] for w in words)), key=lambda p: p[:2])


def planted(words: tuple[str, ...] = ()) -> list[tuple[str, str, str, str]]:
    """The slips planted by hand: file, words, text, tests."""
    return [
        (s.file, f"{s.old} -> {s.new}", s.planted(), s.tests)
        for s in listed()
        if not words or any(w in s.file for w in words)
    ]


def main(arguments: list[str]) -> None:
    """Try them all and print the figure."""
    words = tuple(a for a in arguments if a != "mutants")
    tried = (drawn if "mutants" in arguments else planted)(words)
    sys.dont_write_bytecode = True
    for library in LIBRARIES:
        importlib.import_module(library)  # once for all
    found = []
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
        for file, said, text, tests in tried:
            if not found and caught(file, (ROOT / file).read_text(encoding="utf-8"), tests, copy):
                print(f"the tests fail without a slip: {tests}")
            found.append(caught(file, text, tests, copy))
            print(f"{'caught  ' if found[-1] else 'SURVIVED'} {file}: {said}", flush=True)
    print(f"{sum(found)} of {len(found)} caught")


if __name__ == "__main__":
    main(sys.argv[1:])
