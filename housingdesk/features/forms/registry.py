"""Finding the outside forms: whatever file lies in this folder and defines one."""

from __future__ import annotations

import importlib
import pkgutil
from functools import cache
from typing import Any

from housingdesk.errors import SpecError
from housingdesk.features import forms
from housingdesk.features.forms.form import Form


@cache
def kinds() -> dict[str, type[Form]]:
    """Return every form class by its kind, in the order they are offered."""
    found: dict[str, type[Form]] = {}
    for module in pkgutil.iter_modules(forms.__path__):
        loaded = importlib.import_module(f"{forms.__name__}.{module.name}")
        for value in vars(loaded).values():
            ours = isinstance(value, type) and issubclass(value, Form) and value.__module__ == loaded.__name__
            if ours and "kind" in value.model_fields:
                kind = value.model_fields["kind"].default
                if isinstance(kind, str):
                    found[kind] = value
    return dict(sorted(found.items(), key=lambda item: (item[1].ORDER, item[0])))


def as_form(entry: Any) -> Form:
    """Return a form from itself or from its entry in a project file.

    Raises
    ------
    ValueError : a kind this version does not know.
    """
    if isinstance(entry, Form):
        return entry
    kind = entry.get("kind") if isinstance(entry, dict) else None
    made = kinds().get(kind) if isinstance(kind, str) else None
    if made is None:
        raise ValueError(f"this version of Housing Desk knows no outside form of the kind '{kind}'")
    return made(**entry)


def form_of(name: str) -> type[Form]:
    """Return a form class; SpecError where there is none of that kind."""
    found = kinds().get(name)
    if found is None:
        raise SpecError(f"There is no outside form '{name}'; choose one of {', '.join(kinds())}.")
    return found
