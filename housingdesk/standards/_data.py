"""Reads the tables in resources/standards: one JSON file per standard, checked while it is read.

A file holds ``standard``, ``title``, ``sources`` (key -> mark and text), ``columns`` (field -> source key),
``rows`` (name -> field -> value) and, where single figures come from elsewhere, ``exceptions``
(row name -> field -> source key).  A figure without a source is refused.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Annotated, Any, Literal, NamedTuple, Self, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError, model_validator

import housingdesk
from housingdesk.errors import FileError

Mark = Literal["R2", "R", "RC", "C", "M", "X"]
MARKS: Mapping[Mark, str] = MappingProxyType(
    {
        "R2": "read in two or more public pages that agree",
        "R": "read in one public page",
        "RC": "read in a public page and computed again",
        "C": "computed from the definition",
        "M": "from memory, not verified",
        "X": "sources disagree",
    }
)
Positive = Annotated[float, Field(gt=0)]


class _Closed(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class Source(_Closed):
    """Where a figure comes from.

    Attributes
    ----------
    standard : the standard or table it belongs to.
    mark : how it is known, see ``MARKS``.
    text : where it was read; says 'from memory' where it was not.
    """

    standard: str = Field(min_length=1)
    mark: Mark
    text: str = Field(min_length=1)

    @model_validator(mode="after")
    def _memory_is_said(self) -> Self:
        if (self.mark == "M") != ("from memory" in self.text):
            raise ValueError("mark M and the words 'from memory' go together")
        return self

    @property
    def from_memory(self) -> bool:
        """Whether nobody has checked the figure."""
        return self.mark == "M"


class Figure(NamedTuple):
    """A looked-up number with its source."""

    value: float
    source: Source


class Span(_Closed):
    """A range of published values; both ends equal where only one was found."""

    low: float
    high: float

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.low > self.high:
            raise ValueError("a range runs from low to high")
        return self

    @property
    def middle(self) -> float:
        """Mean of both ends."""
        return (self.low + self.high) / 2


def _span(value: Any) -> Any:
    """Read a number or a pair as a range."""
    if isinstance(value, int | float):
        return {"low": value, "high": value}
    if isinstance(value, list) and len(value) == 2:
        return {"low": value[0], "high": value[1]}
    return value


Range = Annotated[Span, BeforeValidator(_span)]


class Entry(_Closed):
    """One row of a table; subclasses name its figures.

    Attributes
    ----------
    name : as the trade calls it.
    provenance : field name and source of every figure.
    """

    name: str
    provenance: tuple[tuple[str, Source], ...]

    def source(self, field: str) -> Source:
        """Return where a figure comes from; KeyError for a field the row has no figure for."""
        return dict(self.provenance)[field]

    def figure(self, field: str) -> Figure:
        """Return a number with its source."""
        return Figure(float(getattr(self, field)), self.source(field))


E = TypeVar("E", bound=Entry)


class _File(_Closed):
    standard: str
    title: str
    note: str = ""
    sources: dict[str, dict[str, str]]
    columns: dict[str, str]
    rows: dict[str, dict[str, Any]]
    exceptions: dict[str, dict[str, str]] = {}


def folder() -> Path:
    """Return the folder of the tables: inside an installed package, beside it in a source tree."""
    package = Path(housingdesk.__file__).resolve().parent
    inside = package / "_data" / "resources" / "standards"
    return inside if inside.is_dir() else package.parent / "resources" / "standards"


def table(stem: str, kind: type[E]) -> Mapping[str, E]:
    """Return a table by the name of its file, each row as ``kind``, in the file's order.

    Raises
    ------
    FileError
        When the file is missing or damaged.
    """
    rows: Mapping[str, E] = _read(stem, kind)
    return rows


@cache
def _read(stem: str, kind: type[E]) -> Mapping[str, E]:
    path = folder() / f"{stem}.json"
    try:
        return MappingProxyType(parse(path.read_text("utf-8"), kind))
    except (OSError, ValidationError, ValueError, KeyError) as error:
        reason = str(error).splitlines()[0] if str(error) else type(error).__name__
        raise FileError(f"The table {path.name} is missing or damaged ({reason}); install again.") from error


def parse(text: str, kind: type[E]) -> dict[str, E]:
    """Read a table from its JSON text.

    Raises
    ------
    ValueError, KeyError
        For broken JSON, an unknown or missing field, a value out of range, a figure without source.
    """
    file = _File.model_validate(json.loads(text))
    sources = {k: Source.model_validate({"standard": file.standard} | v) for k, v in file.sources.items()}
    used = set(file.columns.values()) | {k for row in file.exceptions.values() for k in row.values()}
    if used != set(sources):
        raise ValueError(f"sources named and sources given differ: {sorted(used ^ set(sources))}")
    for name, cells in file.exceptions.items():
        if missing := set(cells) - set(file.rows[name]):
            raise ValueError(f"exception for a figure that {name} does not have: {sorted(missing)}")
    out = {}
    for name, row in file.rows.items():
        keys = {field: file.exceptions.get(name, {}).get(field, file.columns[field]) for field in row}
        provenance = tuple((field, sources[key]) for field, key in keys.items())
        out[name] = kind.model_validate({"name": name, "provenance": provenance} | row)
    return out
