"""The base of every value that is saved in a project."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict


class Model(BaseModel):
    """Frozen, closed (no unknown entries) and finite."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)
