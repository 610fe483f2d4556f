"""A broken limit said as one plain sentence.

The sentence is made from the models themselves, so a new field needs no entry here: its name is the
field's ``title``, else the field name in words without its unit (``wall_mm`` -> "wall"), and its limits are
the ones that pydantic checks.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any, get_args

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

_UNITS = {"mm": "mm", "deg": "degrees", "mm2": "mm²", "mm3": "mm³"}
_NUMBER = {"greater_than", "greater_than_equal", "less_than", "less_than_equal", "finite_number"}


def sentence_of(error: ValidationError, model: type[BaseModel] | None = None) -> str:
    """Return one plain sentence for the first thing that pydantic refused.

    The sentence names the thing, its limits and its unit, for example "The wall must be between 0.4 and
    50 mm."

    Parameters
    ----------
    model : which was refused; else it is found by the error's title, which is the class name, and the field.
    """
    first = error.errors(include_url=False, include_input=False)[0]
    kind, loc = first["type"], first["loc"]
    if kind == "value_error":
        return _sentence(str(first["ctx"]["error"]))
    field = _field_at(model or _model_named(error.title, loc), loc)
    thing = f"The {_words_of(loc, field)}"
    if kind == "missing":
        return f"{thing} is missing."
    if kind == "extra_forbidden":
        return f"The entry '{loc[-1]}' is not known to this version of Housing Desk."
    if kind == "json_invalid":
        return "The text is not complete JSON."
    if kind == "literal_error":
        return f"{thing} must be {first['ctx']['expected']}."
    if kind.startswith("string_too"):
        return f"{thing} must have {_counted(field, 'character')}."
    if kind in ("too_short", "too_long"):
        return f"{thing} must have {_counted(field, 'entry', 'entries')}."
    if kind in _NUMBER:
        return f"{thing} must be {_limits(field, loc) or _broken(first.get('ctx', {}), loc)}."
    if kind.startswith(("float", "int")):
        return f"{thing} must be a number{_after_number(_limits(field, loc))}."
    return f"{thing} is not written as it should be."


def _sentence(text: str) -> str:
    text = text.strip().rstrip(".")
    return f"{text[:1].upper()}{text[1:]}."


def _broken(context: dict[str, Any], loc: tuple[str | int, ...]) -> str:
    """Return the one limit that was broken, for a number inside a list."""
    for key, words in (("ge", "at least"), ("gt", "more than"), ("le", "at most"), ("lt", "less than")):
        if key in context:
            name = next((str(part) for part in reversed(loc) if isinstance(part, str)), "")
            unit = _UNITS.get(name.rsplit("_", 1)[-1], "")
            return f"{words} {context[key]:g} {unit}".rstrip()
    return "a finite number"


def _after_number(limits: str) -> str:
    return f" {limits}" if limits else ""


def _all_models(base: type[BaseModel] = BaseModel) -> Iterator[type[BaseModel]]:
    for child in base.__subclasses__():
        yield child
        yield from _all_models(child)


def _model_named(name: str, loc: tuple[int | str, ...]) -> type[BaseModel] | None:
    """Find a model of this program by its class name; of several, one that has the field."""
    ours = [m for m in _all_models() if m.__module__.startswith("housingdesk.") and m.__name__ == name]
    return next((m for m in ours if loc and loc[0] in m.model_fields), ours[0] if ours else None)


def _field_at(model: type[BaseModel] | None, loc: tuple[int | str, ...]) -> FieldInfo | None:
    """Walk an error's location through nested models, to the last field that has a name."""
    found: FieldInfo | None = None
    for step in loc:
        if isinstance(step, str) and model is not None and step in model.model_fields:
            found = model.model_fields[step]
            model = _model_within(found.annotation)
    return found


def _model_within(annotation: Any) -> type[BaseModel] | None:
    """Return the model that an annotation such as ``tuple[PartSpec, ...]`` holds, if any."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((m for m in map(_model_within, get_args(annotation)) if m is not None), None)


def _words_of(loc: tuple[int | str, ...], field: FieldInfo | None) -> str:
    names = [step for step in loc if isinstance(step, str)]
    return words_of(names[-1] if names else "value", field)


def words_of(name: str, field: FieldInfo | None) -> str:
    """Return what a field is called: its title, else its name in words without the unit."""
    if field is not None and field.title:
        return field.title
    words = name.split("_")
    return " ".join(words[:-1] if words[-1] in _UNITS and len(words) > 1 else words)


def _unit_of(loc: tuple[int | str, ...]) -> str:
    names = [step for step in loc if isinstance(step, str)]
    return _UNITS.get(names[-1].rsplit("_", 1)[-1], "") if names else ""


def bounds_of(rules: Iterable[Any]) -> dict[str, Any]:
    """Return a field's own limits by pydantic's names: gt, ge, lt, le, min_length, max_length."""
    names = ("gt", "ge", "lt", "le", "min_length", "max_length")
    return {n: getattr(r, n) for r in rules for n in names if getattr(r, n, None) is not None}


def _bounds(field: FieldInfo | None) -> dict[str, Any]:
    return bounds_of(field.metadata if field is not None else [])


def _limits(field: FieldInfo | None, loc: tuple[int | str, ...]) -> str:
    """Return a field's range in words, or nothing where it has none."""
    b = _bounds(field)
    unit = f" {_unit_of(loc)}".rstrip()
    if "ge" in b and "le" in b:
        return f"between {b['ge']:g} and {b['le']:g}{unit}"
    words = {"gt": "more than", "ge": "at least", "lt": "less than", "le": "at most"}
    said = " and ".join(f"{word} {b[name]:g}" for name, word in words.items() if name in b)
    return f"{said}{unit}" if said else ""


def _counted(field: FieldInfo | None, one: str, many: str = "") -> str:
    b = _bounds(field)
    many = many or f"{one}s"
    low, high = b.get("min_length"), b.get("max_length")
    if low is not None and high is not None:
        return f"exactly {low} {many}" if low == high else f"between {low} and {high} {many}"
    if low is not None:
        return f"at least {low} {one if low == 1 else many}"
    return f"at most {high} {one if high == 1 else many}" if high is not None else f"another number of {many}"
