"""Features with random legal fields, drawn by hypothesis from the models themselves."""

from __future__ import annotations

import types
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from hypothesis import strategies as st
from pydantic.fields import FieldInfo

from housingdesk.features.feature import Feature
from housingdesk.features.registry import kinds
from housingdesk.spec.limits import bounds_of

WIDE = 60.0  # numbers without limits, and places, are drawn from a little more than the housing
SKIPPED = {"kind", "name", "on", "font", "zone"}
WORDS = st.sampled_from(["", " ", "A", "x" * 60, "0 0", "-40 0; 40 0", "1 2 3", "nan 0", "Ä漢"])


def features() -> st.SearchStrategy[Feature]:
    """Return a strategy for any kind of feature there is, all fields within their limits."""
    return st.sampled_from(list(kinds().values())).flatmap(one_of_kind)


def one_of_kind(kind: type[Feature]) -> st.SearchStrategy[Feature]:
    """Return a strategy for one kind."""
    fields = {n: _field(f) for n, f in kind.model_fields.items() if n not in SKIPPED}
    return st.fixed_dictionaries({}, optional=fields).map(lambda given: kind(name="Drawn", **given))


def _field(field: FieldInfo) -> st.SearchStrategy[Any]:
    return _of(field.annotation, field.metadata)


def _of(annotation: Any, metadata: list[Any]) -> st.SearchStrategy[Any]:
    origin = get_origin(annotation)
    if origin is Annotated:
        inner, *extra = get_args(annotation)
        more = [m for e in extra for m in (e.metadata if isinstance(e, FieldInfo) else [e])]
        return _of(inner, [*metadata, *more])
    if origin in (Union, types.UnionType):
        return st.one_of([_of(a, metadata) for a in get_args(annotation)])
    if origin is Literal:
        return st.sampled_from(get_args(annotation))
    if origin is tuple:
        inner = get_args(annotation)
        if len(inner) == 2 and inner[1] is Ellipsis:
            longest = next((m.max_length for m in metadata if hasattr(m, "max_length")), 6)
            return st.lists(_of(inner[0], []), max_size=min(longest, 6)).map(tuple)
        return st.tuples(*(_of(a, []) for a in inner))
    if annotation is type(None):
        return st.none()
    if annotation is bool:
        return st.booleans()
    if annotation is str:
        return WORDS
    limits = bounds_of(metadata)
    low, high = limits.get("ge", limits.get("gt", -WIDE)), limits.get("le", limits.get("lt", WIDE))
    if annotation is int:
        return st.integers(int(low), int(high))
    assert annotation is float, annotation
    # The whole range, what is near a housing's size, and both ends.
    near = st.floats(max(low, -WIDE), min(high, WIDE), allow_nan=False)
    return (
        st.one_of(near, st.floats(low, high, allow_nan=False), st.sampled_from([low, high]))
        .map(lambda x: round(x, 3))
        .filter(lambda x: low <= x <= high)
    )
