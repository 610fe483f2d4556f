"""One file a format; each module here that has a ``READER`` is a format the program can open."""

from __future__ import annotations

import importlib
import pkgutil
from functools import cache

from housingdesk.files.readers.base import Reader


@cache
def readers() -> dict[str, Reader]:
    """Return the reader for each file suffix, lower case with the dot."""
    found: dict[str, Reader] = {}
    for module in sorted(pkgutil.iter_modules(__path__), key=lambda m: m.name):
        reader = getattr(importlib.import_module(f"{__name__}.{module.name}"), "READER", None)
        if isinstance(reader, Reader):
            found |= dict.fromkeys(reader.suffixes, reader)
    return found
