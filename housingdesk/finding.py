"""What a check says."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Severity = Literal["pass", "caution", "fail"]
_RANK = {"fail": 0, "caution": 1, "pass": 2}


@dataclass(frozen=True, slots=True)
class Finding:
    """One line of the proof sheet.

    Attributes
    ----------
    code : stable kebab-case name, for programs.
    severity : ``fail`` means do not print; ``caution`` means know this first.
    message : one plain sentence with the measured figure.
    remedy : what to do, or empty for a pass.
    where_mm : a place in the build frame to look at, or None.
    """

    code: str
    severity: Severity
    message: str
    remedy: str = ""
    where_mm: tuple[float, float, float] | None = None


def counted(number: int, one: str, many: str = "") -> str:
    """Return a number with its noun: ``1 hook``, ``2 hooks``; ``many`` where the plural is not one with s."""
    return f"{number} {one if number == 1 else many or f'{one}s'}"


def worst_first(findings: list[Finding] | tuple[Finding, ...]) -> tuple[Finding, ...]:
    """Order findings for reading: fails, then cautions, then passes; otherwise as given."""
    return tuple(sorted(findings, key=lambda f: _RANK[f.severity]))
