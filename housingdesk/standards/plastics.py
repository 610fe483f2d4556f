"""Printing plastics: published ranges; None where nothing was found."""

from __future__ import annotations

from collections.abc import Mapping

from housingdesk.standards._data import Entry, Range, table


class Plastic(Entry):
    """A plastic by its short name.

    Attributes
    ----------
    density_g_cm3, modulus_gpa : density; modulus of elasticity.
    glass_c : glass transition.
    deflection_045_c, deflection_180_c : deflection temperature under 0.45 and 1.8 MPa.
    conductivity_w_mk, expansion_1e6_k : thermal conductivity; linear expansion.
    shrinkage_pct : mould shrinkage; not what a print does.
    strain_pct : permissible strain of a snap hook, single assembly.
    """

    density_g_cm3: Range
    modulus_gpa: Range | None = None
    glass_c: Range | None = None
    deflection_045_c: Range | None = None
    deflection_180_c: Range | None = None
    conductivity_w_mk: Range | None = None
    expansion_1e6_k: Range | None = None
    shrinkage_pct: Range | None = None
    strain_pct: Range | None = None


def plastics() -> Mapping[str, Plastic]:
    """All plastics by short name."""
    return table("plastics", Plastic)
