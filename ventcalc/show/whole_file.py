"""Whole file: a text written so that its file is never there in part."""

import secrets
from collections.abc import Mapping
from pathlib import Path


def write(path: Path, text: str) -> None:
    """Write a file, over one that is there: beside it first, then moved into place. OSError where that cannot be."""
    making = path.with_name(f".{path.name}-{secrets.token_hex(6)}")
    try:
        making.write_text(text, encoding="utf-8", newline="")
        making.replace(path)
    finally:
        making.unlink(missing_ok=True)


def write_into(folder: str | Path, texts: Mapping[str, str]) -> Path:
    """Write texts by their names into a folder, each whole or not at all; the folder. OSError where that cannot be."""
    out = Path(folder)
    if out.exists() and not out.is_dir():
        raise NotADirectoryError(f"{out} is not a folder")
    out.mkdir(parents=True, exist_ok=True)
    for name, text in texts.items():
        write(out / name, text)
    return out
