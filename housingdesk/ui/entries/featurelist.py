"""The features of one station, and the line that adds another."""

from __future__ import annotations

from PySide6.QtWidgets import QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from housingdesk.features import registry
from housingdesk.features.feature import Feature
from housingdesk.features.feature import Station as StationName
from housingdesk.ui.desk import Desk
from housingdesk.ui.entries.entry import FeatureEntry, rule
from housingdesk.ui.entries.wishes import hint_of
from housingdesk.ui.jobcard.station import Station, button, note, show_note
from housingdesk.ui.stack import allow, relist

_MOST_SAID = 90  # characters of a station's summary


class FeatureList(QWidget):
    """Entries of a station's features, in the order of the housing, and what can be added."""

    def __init__(self, desk: Desk, station: StationName) -> None:
        super().__init__()
        self.desk = desk
        self.station = station
        self.entries: dict[str, FeatureEntry] = {}
        self._order: tuple[tuple[str, str], ...] = ()
        self._list = QVBoxLayout()
        self._list.setContentsMargins(0, 0, 0, 0)
        self._list.setSpacing(0)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        column.addLayout(self._list)
        kinds = {k: c for k, c in registry.kinds().items() if station == c.STATION}
        self.heading = note("Add")
        column.addWidget(self.heading)
        self.heading.setVisible(bool(kinds))
        self.adds: dict[str, QPushButton] = {}
        self.places: dict[str, QPushButton] = {}
        for kind, made in sorted(kinds.items(), key=lambda item: item[1].TITLE):
            column.addWidget(self._add_row(kind, made))
        self.asked = note()
        column.addWidget(self.asked)
        show_note(self.asked, "")

    def features(self) -> tuple[Feature, ...]:
        """Return the open housing's features of this station."""
        spec = self.desk.spec
        return tuple(f for f in spec.features if self.station == f.STATION) if spec else ()

    def refresh(self) -> None:
        """Show the desk's state; entries that stay keep their widgets."""
        features = self.features()
        order = tuple((f.name, f.kind) for f in features)
        if order != self._order:
            self._lay_out(features, order)
        result = self.desk.result
        for feature in features:
            said = result.said.get(feature.name, ()) if result else ()
            self.entries[feature.name].show_feature(feature, said)
        for kind, place in self.places.items():
            place.setChecked(self.desk.placing == kind)
        for add in self.adds.values():
            allow(add, not self.desk.placing_busy, self)
        waits = self.desk.placing in self.places
        show_note(self.asked, "Click the place on the bench. Esc: not now." if waits else "")

    def summary(self) -> str:
        """Say what there is in a few words."""
        said = [f.name[:1].lower() + f.name[1:] + ("" if f.on else " (off)") for f in self.features()]
        words = ", ".join(said)
        if len(words) > _MOST_SAID:
            return f"{len(said)} set."
        return f"{words[:1].upper()}{words[1:]}." if words else "None."

    def _lay_out(self, features: tuple[Feature, ...], order: tuple[tuple[str, str], ...]) -> None:
        kept = {f.name for f in features if (f.name, f.kind) in self._order}
        self.entries = {
            f.name: self.entries[f.name] if f.name in kept else FeatureEntry(self.desk, f) for f in features
        }
        relist(self._list, [w for entry in self.entries.values() for w in (entry, rule())], self)
        self._order = order

    def _add_row(self, kind: str, made: type[Feature]) -> QWidget:
        hint = hint_of(made)
        title = made.TITLE[:1].upper() + made.TITLE[1:]
        add = button(f"+ {title}", hint, lambda: self.desk.place_feature(kind), link=True)
        add.setMinimumWidth(40)  # a long title widens no card
        self.adds[kind] = add
        holder = QWidget()
        row = QHBoxLayout(holder)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(8)
        row.addWidget(self.adds[kind])
        row.addStretch(1)
        if made.at.__func__ is not Feature.at.__func__:  # type: ignore[attr-defined]  # classmethods have one
            place = button(
                "by click",
                f"{hint}\nPress this, then click where it belongs on the bench.",
                lambda: self._toggle_placing(kind),
                link=True,
            )
            place.setCheckable(True)
            self.places[kind] = place
            row.addWidget(place)
        return holder

    def _toggle_placing(self, kind: str) -> None:
        if self.desk.placing == kind:
            self.desk.stop_picking()
        else:
            self.desk.start_placing(kind)


class FeatureStation(Station):
    """A station that is nothing but its features; subclasses give title, order and what it is for."""

    purpose = ""
    features_of: StationName = "Openings"

    def build(self) -> None:
        """Make the list."""
        self.add(note(self.purpose))
        self.list = FeatureList(self.desk, self.features_of)
        self.add(self.list)

    def refresh(self) -> None:
        """Show the features."""
        self.list.refresh()

    def summary(self) -> str:
        """Say what there is."""
        return self.list.summary()

    def is_done(self) -> bool:
        """Whether anything of this station is on."""
        return any(f.on for f in self.list.features())
