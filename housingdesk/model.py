"""The base of every value that is saved in a project."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from pydantic import BaseModel, ConfigDict

OnlyIf = Mapping[str, Mapping[str, tuple[Any, ...]]]


class Model(BaseModel):
    """Frozen, closed (no unknown entries) and finite.

    Attributes
    ----------
    ONLY_IF : for fields that do not always matter, the values that other fields must have for it; all must
        hold: ``{"rim_mm": {"rim": ("chamfered", "rounded")}}``.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    ONLY_IF: ClassVar[OnlyIf] = {}

    def bars(self, name: str) -> str | None:
        """Return the field whose value keeps another one from having any effect; None where it has."""
        rules = self.ONLY_IF.get(name, {})
        return next((other for other, wanted in rules.items() if getattr(self, other) not in wanted), None)
