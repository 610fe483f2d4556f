"""What a model's fields are to the user, read from the model itself.  No Qt.

A field's type, limits, title and description say how it is asked for: see ``features.feature``.
"""

from __future__ import annotations

import inspect
import re
import textwrap
import types
from dataclasses import dataclass, replace
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic.fields import FieldInfo

from housingdesk.features.feature import Feature
from housingdesk.features.forms.form import Form as OutsideForm
from housingdesk.model import Model
from housingdesk.spec.limits import bounds_of, words_of

Form = Literal["number", "count", "tick", "choice", "text"]
AS_NEEDED = "as needed"
TOOLTIP_WIDTH = 92  # characters; Qt does not wrap a plain tooltip
_UNITS = {"mm": "mm", "deg": "°", "pct": "%"}
_WIDE = 1e4  # limits where a field names none
_FINE_RANGE_MM = 60.0  # a number of a smaller range is stepped in tenths


@dataclass(frozen=True, slots=True)
class Wish:
    """One thing the user may set.

    Attributes
    ----------
    name : of the field; title : as it is said; reason : why it is what it is.
    optional : None means that the program chooses.
    choices : what a choice can be, in its own words.
    """

    name: str
    form: Form
    title: str
    reason: str
    least: float = -_WIDE
    most: float = _WIDE
    unit: str = ""
    optional: bool = False
    choices: tuple[str, ...] = ()

    def because(self, reason: str, least: float, most: float) -> Wish:
        """Return the wish with another reason and limits."""
        return replace(self, reason=reason, least=least, most=most)

    @property
    def step(self) -> float:
        """What one press of an arrow adds."""
        if self.form == "count":
            return 1.0
        if self.unit == "mm":
            return 0.1 if self.most - self.least <= _FINE_RANGE_MM else 0.5
        return 5.0 if self.unit == "°" else 1.0

    @property
    def decimals(self) -> int:
        """How many are shown."""
        return 0 if self.form == "count" else 2 if self.unit == "mm" else 1

    @property
    def start(self) -> float:
        """A number to begin with where the program chose until now."""
        usual = 10.0 if self.unit == "mm" else 1.0
        return min(self.most, max(self.least, usual if self.most - self.least > usual else self.step))


def wishes_of(model: type[Model], leave_out: frozenset[str] = frozenset({"kind", "on"})) -> dict[str, Wish]:
    """Return the fields of a model that can be asked for in one word or number, by name, in its order."""
    found = {}
    for name, field in model.model_fields.items():
        wish = None if name in leave_out else _wish(name, field)
        if wish is not None:
            found[name] = wish
    return found


def title_of(model: Model, name: str) -> str:
    """Return what a field is called."""
    return words_of(name, type(model).model_fields[name])


def named_in(sentence: str) -> tuple[str, ...]:
    """Return the fields that a sentence names, in its order."""
    return tuple(re.findall(r"\{(\w+)\}", sentence))


def hint_of(kind: type[Feature] | type[OutsideForm]) -> str:
    """Return what a kind of feature or form is for, from the first paragraph of its own description."""
    paragraph = inspect.cleandoc(kind.__doc__ or kind.TITLE).split("\n\n")[0]
    return textwrap.fill(" ".join(paragraph.split()), TOOLTIP_WIDTH)


def _wish(name: str, field: FieldInfo) -> Wish | None:
    annotation, optional, extra = _plain(field.annotation)
    limits = bounds_of([*field.metadata, *extra])
    base: dict[str, Any] = {
        "name": name,
        "title": words_of(name, field),
        "reason": "\n".join(
            textwrap.fill(line, TOOLTIP_WIDTH) for line in (field.description or "").strip().splitlines()
        ),
        "optional": optional,
    }
    if get_origin(annotation) is Literal:
        words = get_args(annotation)
        return Wish(form="choice", choices=words, **base) if all(isinstance(w, str) for w in words) else None
    if annotation is bool and not optional:
        return Wish(form="tick", **base)
    if annotation is str and not optional:
        return Wish(form="text", **base)
    if annotation in (int, float):
        least = limits.get("ge", limits.get("gt", -_WIDE))
        most = limits.get("le", limits.get("lt", _WIDE))
        unit = _UNITS.get(name.rsplit("_", 1)[-1], "")
        form: Form = "count" if annotation is int else "number"
        return Wish(form=form, least=float(least), most=float(most), unit=unit, **base)
    return None


def _plain(annotation: Any) -> tuple[Any, bool, list[Any]]:
    """Return an annotation without None and metadata, whether None was in it, and the metadata."""
    optional, extra = False, []
    while True:
        if get_origin(annotation) is Annotated:
            annotation, *more = get_args(annotation)
            for item in more:
                extra += item.metadata if isinstance(item, FieldInfo) else [item]
        elif get_origin(annotation) in (Union, types.UnionType):
            rest = [a for a in get_args(annotation) if a is not type(None)]
            optional = optional or len(rest) < len(get_args(annotation))
            if all(get_origin(a) is Literal for a in rest):  # choices from several lists are one list
                return Literal[tuple(w for a in rest for w in get_args(a))], optional, extra
            if len(rest) != 1:
                return None, optional, extra
            annotation = rest[0]
        else:
            return annotation, optional, extra
