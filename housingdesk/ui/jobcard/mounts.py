"""Station Mounts: the housing's features of that name."""

from __future__ import annotations

from housingdesk.ui.entries.featurelist import FeatureStation


class MountsStation(FeatureStation):
    """The features of station Mounts."""

    title = "Mounts"
    order = 70
    features_of = "Mounts"
    purpose = "What the housing stands on or is fixed by."
