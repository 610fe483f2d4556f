"""Where things lie: what came with the program, and what the user's machine keeps for it."""

from __future__ import annotations

import os
from pathlib import Path

import platformdirs

import housingdesk

_PACKAGE = Path(housingdesk.__file__).resolve().parent
_APP = "housingdesk"


def resources_dir() -> Path:
    """Icons, tables and other data that came with the program."""
    return _shipped("resources")


def samples_dir() -> Path:
    """Return the folder with one folder per sample project."""
    return _shipped("sample_projects")


def user_data_dir() -> Path:
    """Autosaves, recent files and settings; ``HOUSINGDESK_DATA`` overrides it.  May not exist yet."""
    return Path(os.environ.get("HOUSINGDESK_DATA") or platformdirs.user_data_dir(_APP, appauthor=False))


def user_cache_dir() -> Path:
    """Return the folder of things that can be made again; ``HOUSINGDESK_CACHE`` overrides it."""
    return Path(os.environ.get("HOUSINGDESK_CACHE") or platformdirs.user_cache_dir(_APP, appauthor=False))


def _shipped(name: str) -> Path:
    """Find a folder that a wheel carries inside the package and a source tree beside it."""
    inside = _PACKAGE / "_data" / name
    return inside if inside.is_dir() else _PACKAGE.parent / name
