"""What a feature is.

A feature is one file in this folder with one ``Feature`` subclass: its fields are what the user may set, its
``build`` makes bodies, words and findings from them.  ``registry`` finds it; the project file, the job card,
the command line and the bench need no word about it:

* a field's type and limits make its entry on the job card: float -> number with the unit its name ends in
  (_mm, _deg), int -> count, bool -> tick, Literal -> choice, str -> text;
* ``SENTENCE`` says the feature in words with its fields in braces; fields it leaves out follow below it; what
  stands in square brackets is not said while ``ONLY_IF`` bars a field in it;
* a field's ``title`` is its name and its ``description`` the reason shown as its tooltip.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterable
from typing import ClassVar, Literal, Self, TypeVar

from pydantic import Field

from housingdesk.errors import SpecError
from housingdesk.features.records import Point
from housingdesk.features.site import Site
from housingdesk.features.work import Handle, Work
from housingdesk.geometry.types import Floats
from housingdesk.model import Model

Station = Literal["Fit", "Shell", "Openings", "Joints", "Mounts"]


class Feature(Model, ABC):
    """Base of all features.

    Attributes
    ----------
    kind : names the subclass in the project file; each subclass fixes it with a ``Literal``.
    name : unique in the housing.
    on : a feature that is switched off is kept, and makes nothing.
    """

    TITLE: ClassVar[str] = ""
    STATION: ClassVar[Station] = "Openings"
    SENTENCE: ClassVar[str] = ""
    ORDER: ClassVar[int] = 50  # features of a low order are built first and are seen by later ones

    kind: str
    name: str = Field(default="", max_length=80, title="name")
    on: bool = Field(default=True, title="switched on")

    @abstractmethod
    def build(self, site: Site) -> Work:
        """Make the feature's bodies.

        Raises
        ------
        SpecError : what the user asked cannot be made here; one sentence.  The feature is then left out.
        """

    def knobs(self, site: Site) -> tuple[Handle, ...]:
        """Return the knobs of the places that the fields give, whether or not anything can be made there.

        They stand in for those of ``Work`` while the feature cannot be made, so that it can be dragged back.
        """
        return ()

    def spot(self, site: Site) -> Point | None:
        """Return a place to show where it cannot be made, as far as that is known."""
        knobs = self.knobs(site)
        return knobs[0].at_mm if knobs else None

    def moved(self, handle: str, to_mm: Floats, site_parting_z_mm: float) -> Self:
        """Return the feature after one of its handles was dragged to (3,) in the build frame."""
        return self

    @classmethod
    def proposed(cls, site: Site) -> Self | None:
        """Return the feature as the program would place it first, or None where it makes no sense."""
        return None

    @classmethod
    def at(cls, point_mm: Floats, normal: Floats, site: Site) -> Self | None:
        """Return the feature placed where the user clicked: (3,) on the outside form, and its (3,) normal."""
        return cls.proposed(site)


F = TypeVar("F", bound=Feature)


def first_that_fits(candidates: Iterable[F], site: Site) -> F | None:
    """Return the first of some features that can be made without a fail, or the first of all if none can."""
    tried = list(candidates)
    return next((feature for feature in tried if _fits(feature, site)), tried[0] if tried else None)


def _fits(feature: Feature, site: Site) -> bool:
    try:
        return all(found.severity != "fail" for found in feature.build(site).findings)
    except SpecError:
        return False
