"""Old project documents into today's.

A document is the content of ``project.json``: {"format", "version", "spec"}.  A field that is new and has
a default needs no step; a field that changes its name or meaning does: raise ``VERSION`` and add the step
from the version before.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from housingdesk.errors import FileError

FORMAT = "housing desk project"
VERSION = 1

Document = dict[str, Any]
Step = Callable[[Document], Document]

STEPS: Mapping[int, Step] = {}  # version n -> the map from n to n + 1


def migrate(document: Document, *, steps: Mapping[int, Step] = STEPS, version: int = VERSION) -> Document:
    """Return the document as ``version`` would have written it; the one given is not changed.

    Parameters
    ----------
    document : content of ``project.json`` as read.
    steps, version : the chain and its end; given by tests only.

    Raises
    ------
    FileError : it is no project, or a newer program wrote it.
    """
    if not isinstance(document, dict) or document.get("format") != FORMAT:
        raise FileError("This is not a Housing Desk project; open a project or a part.")
    written = document.get("version")
    if not isinstance(written, int) or isinstance(written, bool) or written < 1:
        raise FileError("The project does not say which version wrote it; use a copy of it.")
    if written > version:
        raise FileError(
            f"The project was written by a newer Housing Desk (version {written}); update the program."
        )
    for step in range(written, version):
        document = steps[step](document) | {"version": step + 1}
    return document
