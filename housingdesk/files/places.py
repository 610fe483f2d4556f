"""Where things lie: what came with the program, and what the user's machine keeps for it."""

from __future__ import annotations

import hashlib
import os
import shutil
from pathlib import Path

import platformdirs

import housingdesk

_PACKAGE = Path(housingdesk.__file__).resolve().parent
_APP = "housingdesk"
_OTHERS_KEPT = 3  # compiled kernels of other versions: of other copies of the program on this machine


def resources_dir() -> Path:
    """Icons, tables and other data that came with the program."""
    return _shipped("resources")


def samples_dir() -> Path:
    """Return the folder with one folder per sample project."""
    return _shipped("sample_projects")


def user_data_dir() -> Path:
    """Autosaves, recent files and settings; ``HOUSINGDESK_DATA`` overrides it.  May not exist yet."""
    return Path(os.environ.get("HOUSINGDESK_DATA") or platformdirs.user_data_dir(_APP, appauthor=False))


def log_path() -> Path:
    """Return the file that the window logs into what goes wrong inside it."""
    return user_data_dir() / "housingdesk.log"


def user_cache_dir() -> Path:
    """Return the folder of things that can be made again; ``HOUSINGDESK_CACHE`` overrides it."""
    return Path(os.environ.get("HOUSINGDESK_CACHE") or platformdirs.user_cache_dir(_APP, appauthor=False))


def compiled_dir() -> Path:
    """Return the folder for the compiled kernels of just this version; see ``forget_older_kernels``.

    numba compiles a kernel anew when the file it stands in has changed, but not when one that it inlines has:
    so the folder is named after what all files with kernels say.
    """
    told = hashlib.sha256()
    for source in sorted((_PACKAGE / "geometry").rglob("*.py")):
        text = source.read_bytes()
        if b"jit" in text:
            told.update(text)
    return user_cache_dir() / "compiled" / told.hexdigest()[:16]


def forget_older_kernels() -> None:
    """Remove the compiled kernels of all but a few other versions."""
    own = compiled_dir()
    if not own.parent.is_dir():
        return
    others = [folder for folder in own.parent.iterdir() if folder != own]
    for old in sorted(others, key=lambda folder: -folder.stat().st_mtime)[_OTHERS_KEPT:]:
        shutil.rmtree(old, ignore_errors=True)


def _shipped(name: str) -> Path:
    """Find a folder that a wheel carries inside the package and a source tree beside it."""
    inside = _PACKAGE / "_data" / name
    return inside if inside.is_dir() else _PACKAGE.parent / name
