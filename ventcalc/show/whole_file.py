"""Whole file: a text written so that its file is never there in part."""

import secrets
from pathlib import Path


def write(path: Path, text: str) -> None:
    """Write a file, over one that is there: beside it first, then moved into place. OSError where that cannot be."""
    making = path.with_name(f".{path.name}-{secrets.token_hex(6)}")
    try:
        making.write_text(text, encoding="utf-8", newline="")
        making.replace(path)
    finally:
        making.unlink(missing_ok=True)
