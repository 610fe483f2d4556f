"""Station Openings: the housing's features of that name, and the ways out that zones have by themselves."""

from __future__ import annotations

from housingdesk.features.opening import face_of
from housingdesk.ui.entries.featurelist import FeatureStation


class OpeningsStation(FeatureStation):
    """The features of station Openings."""

    title = "Openings"
    order = 50
    features_of = "Openings"
    purpose = (
        "Ways through the wall: for wires, connectors, buttons, air and tools. "
        "The way out of a shaft, or of what is kept open, comes with its zone, at Fit."
    )

    def summary(self) -> str:
        """Say what there is; shafts' ways out, too, which the first view of the housing may hide."""
        result = self.desk.result
        ways = [f"{p.zone} out at the {face_of(p.axis)}" for p in (result.passages if result else ())]
        if not ways:
            return super().summary()
        said = [super().summary().removesuffix(".")] if self.list.features() else []
        words = ", ".join([*said, *ways])
        return f"{words[:1].upper()}{words[1:]}."
