"""Python files as trees, for tests that look at what a module imports or is made of."""

import ast
import gc
from pathlib import Path


def parsed(path: Path) -> ast.Module:
    """The tree of a file.

    Without garbage being collected meanwhile: what that runs (widgets that close) upsets Python 3.11's count of how
    deep it is in the tree, and it raises SystemError.
    """
    gc.disable()
    try:
        return ast.parse(path.read_text(encoding="utf-8"))
    finally:
        gc.enable()
