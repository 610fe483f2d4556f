"""Station Openings: the housing's features of that name."""

from __future__ import annotations

from housingdesk.ui.entries.featurelist import FeatureStation


class OpeningsStation(FeatureStation):
    """The features of station Openings."""

    title = "Openings"
    order = 50
    features_of = "Openings"
    purpose = "Ways through the wall: for wires, connectors, buttons, air and tools."
