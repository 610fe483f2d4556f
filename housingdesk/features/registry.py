"""Finding the features: whatever file lies in this folder and defines one."""

from __future__ import annotations

import importlib
import pkgutil
from functools import cache
from typing import Any

from pydantic import ValidationError

from housingdesk import features
from housingdesk.errors import SpecError
from housingdesk.features.feature import Feature


@cache
def kinds() -> dict[str, type[Feature]]:
    """Return every feature class by its kind, in the order they are built."""
    found: dict[str, type[Feature]] = {}
    for module in pkgutil.iter_modules(features.__path__):
        loaded = importlib.import_module(f"{features.__name__}.{module.name}")
        for value in vars(loaded).values():
            ours = isinstance(value, type) and issubclass(value, Feature) and value is not Feature
            if ours and value.__module__ == loaded.__name__ and "kind" in value.model_fields:
                kind = value.model_fields["kind"].default
                if isinstance(kind, str):
                    found[kind] = value
    return dict(sorted(found.items(), key=lambda item: (item[1].ORDER, item[0])))


def as_feature(entry: Any) -> Feature:
    """Return a feature from itself or from its entry in a project file.

    Raises
    ------
    ValueError : a kind this version does not know.
    """
    if isinstance(entry, Feature):
        return entry
    kind = entry.get("kind") if isinstance(entry, dict) else None
    made = kinds().get(kind) if isinstance(kind, str) else None
    if made is None:
        raise ValueError(f"this version of Housing Desk knows no feature of the kind '{kind}'")
    return made(**entry)


def plain(kind: type[Feature]) -> Feature | None:
    """Return a feature as its fields are by themselves, or None where one of them has to be given."""
    try:
        return kind.model_validate({})
    except ValidationError:
        return None


def kind_of(name: str) -> type[Feature]:
    """Return a feature class; SpecError where there is none of that kind."""
    found = kinds().get(name)
    if found is None:
        raise SpecError(f"There is no feature '{name}'; choose one of {', '.join(kinds())}.")
    return found
