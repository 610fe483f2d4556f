"""Station Joints: the housing's features of that name."""

from __future__ import annotations

from housingdesk.ui.entries.featurelist import FeatureStation


class JointsStation(FeatureStation):
    """The features of station Joints."""

    title = "Joints"
    order = 60
    features_of = "Joints"
    purpose = "What holds the two halves together, and in line."
