"""Supply chain: what is installed is known by its hash, used, and under a licence that lets anybody go on with it."""

import ast
import re
import tomllib
from importlib import metadata
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from sample_sources import parsed

ROOT = Path(__file__).resolve().parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
# Modules that go by another name than their package.
MODULES = {"latex2mathml": "latex2mathml", "coolprop": "CoolProp"}
# Packages that no module of the library imports, and why they are installed all the same.
NOT_IMPORTED = {"jupyterlab": "the chapters are read in it", "coolprop": "the script that builds a table of data/"}

# Words of licences under which the packages below may be used, changed and passed on (https://spdx.org/licenses).
FREE = re.compile(
    r"\b(MIT|BSD|Apache|PSF|Python Software Foundation|ISC|MPL|Mozilla Public|HPND|Historical Permission|Unlicense|"
    r"CC0|0BSD|Zlib|Public Domain|NCSA|CNRI)",
    re.IGNORECASE,
)


def named(requirement: str) -> str:
    return re.sub(r"[-_.]+", "-", Requirement(requirement).name).lower()


def installed(extras: tuple[str, ...] = ()) -> set[str]:
    """Every package that the library needs, and those that its own need, as far as they are for this machine."""
    found, waiting = set(), [(named(r), frozenset()) for r in PROJECT["dependencies"]]
    for extra in extras:
        waiting += [(named(r), frozenset()) for r in PROJECT["optional-dependencies"][extra]]
    while waiting:
        name, _ = waiting.pop()
        if name in found:
            continue
        found.add(name)
        for text in metadata.requires(name) or ():
            needed = Requirement(text)
            if needed.marker is None or needed.marker.evaluate({"extra": ""}):
                waiting.append((named(text), frozenset(needed.extras)))
    return found


def licence(name: str) -> str:
    told = metadata.metadata(name)
    classified = [c for c in told.get_all("Classifier", []) if c.startswith("License")]
    return " ".join([told.get("License-Expression") or "", (told.get("License") or "")[:200], *classified])


@pytest.mark.parametrize("name", sorted(installed(("test",))))
def test_every_package_is_free_to_use_and_pass_on(name):
    assert FREE.search(licence(name)), licence(name)


def test_every_dependency_is_used():
    imported = set()
    for path in (ROOT / "ventcalc").rglob("*.py"):
        for node in ast.walk(parsed(path)):
            if isinstance(node, ast.Import):
                imported |= {alias.name.partition(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom):
                imported.add((node.module or "").partition(".")[0])
    wanted = {named(r): MODULES.get(named(r), named(r)) for r in PROJECT["dependencies"]}
    unused = {name for name, module in wanted.items() if module not in imported} - set(NOT_IMPORTED)
    assert not unused and set(NOT_IMPORTED) <= set(wanted)


def test_every_release_of_the_constraints_has_the_hash_of_its_file():
    def lines(name: str) -> list[str]:
        text = (ROOT / ".ci" / name).read_text(encoding="utf-8")
        return [line for line in text.splitlines() if line and not line.startswith("#")]

    hashed = {}
    for line in lines("hashes.txt"):
        release, digest = line.split(" --hash=sha256:")
        assert re.fullmatch("[0-9a-f]{64}", digest), line
        hashed[release.lower().replace("_", "-")] = digest
    built = {"hatchling"}  # builds the wheel in an environment of its own
    for release in lines("constraints.txt"):
        assert release.lower().replace("_", "-") in hashed or release.split("==")[0] in built, release
