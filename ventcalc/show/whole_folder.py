"""Whole folder: files that belong together, put in place of an earlier set all at once, so that no two are ever mixed.

The new set is made in a folder of its own beside the other; then the two change places in one step of the file system,
and the old one is taken away. What else stood in the folder is carried over by links to the same files. Where the file
system cannot do that, or somebody works from inside the folder, the files are moved in one by one: each is whole, but
an end in between (power, a kill) leaves some of either set.
"""

import ctypes
import errno
import os
import secrets
import shutil
from collections.abc import Container
from pathlib import Path

_AT_FDCWD, _EXCHANGE = -100, 2  # of Linux: fcntl.h, renameat2(2)


def beside(out: Path) -> Path:
    """A new empty folder to make the next set in, beside a folder or where it will be. OSError where it cannot be."""
    if out.exists() and not os.access(out, os.W_OK | os.X_OK):
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(out))
    place = out.resolve()
    place.parent.mkdir(parents=True, exist_ok=True)
    making = place.parent / f".{place.name}-{secrets.token_hex(6)}"
    making.mkdir()
    return making


def put_in_place(making: Path, out: Path, own: Container[str]) -> None:
    """Put the finished files of ``making`` in place of those of ``out`` that are its ``own``; other files stay there.

    ``making`` stands beside ``out`` and is there no more afterwards, or holds what is to be thrown away. OSError where
    that cannot be.
    """
    out = out.resolve()
    if not out.exists():
        making.rename(out)
        return
    if _inside(out):
        _one_by_one(making, out, own)
        return
    for entry in out.iterdir():
        if entry.name not in own and not (making / entry.name).exists():
            _carry(entry, making / entry.name)
    shutil.copymode(out, making)
    if not _exchange(making, out):
        _one_by_one(making, out, own)


def _inside(out: Path) -> bool:
    """Whether this process, and so likely somebody's shell, works from the folder: it would be left in the old one."""
    try:
        return Path.cwd().is_relative_to(out)
    except FileNotFoundError:  # it is gone already
        return False


def _carry(entry: Path, to: Path) -> None:
    """The same file, or all files of a folder, under a second name; a copy where links cannot be made."""
    if entry.is_symlink():
        to.symlink_to(os.readlink(entry))
    elif entry.is_dir():
        shutil.copytree(entry, to, symlinks=True, copy_function=_link)
    else:
        _link(entry, to)


def _link(entry: str | Path, to: str | Path) -> None:
    try:
        os.link(entry, to)
    except OSError:
        shutil.copy2(entry, to)


def _exchange(one: Path, other: Path) -> bool:
    """Let two folders change names in one step; False where system or file system cannot."""
    try:
        rename = ctypes.CDLL(None, use_errno=True).renameat2
    except (AttributeError, OSError, TypeError):
        return False
    if rename(_AT_FDCWD, os.fsencode(one), _AT_FDCWD, os.fsencode(other), _EXCHANGE) == 0:
        return True
    code = ctypes.get_errno()
    if code in (errno.EINVAL, errno.ENOSYS, errno.ENOTSUP, errno.EBUSY, errno.EXDEV, errno.EPERM):
        return False
    raise OSError(code, os.strerror(code), str(other))


def _one_by_one(making: Path, out: Path, own: Container[str]) -> None:
    made = {file.name for file in making.iterdir()}
    for file in out.iterdir():
        if file.name in own and file.name not in made:
            file.unlink()
    for name in made:
        target = out / name
        if (making / name).is_dir() or (target.is_dir() and not target.is_symlink()):
            continue  # carried over: it stands there already
        os.replace(making / name, target)
