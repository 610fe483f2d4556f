"""Station Print: how the halves are laid and where they are written."""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path
from typing import cast

from housingdesk.features.records import BillLine
from housingdesk.finding import counted
from housingdesk.jobs.messages import Pose
from housingdesk.ui.choicefield import ChoiceField
from housingdesk.ui.entries.printer import PrinterEntry
from housingdesk.ui.flow import Sentence
from housingdesk.ui.jobcard.station import Station, button, note, show_note

POSE_WORDS: dict[Pose, str] = {
    "print": "ready to print",
    "assembled": "as assembled",
}

_READY: dict[Pose, str] = {"print": "Ready to print.", "assembled": "Ready to be written as assembled."}


class PrintStation(Station):
    """Pose, folder and what was written."""

    title = "Print"
    order = 80

    def build(self) -> None:
        """Make the sentences."""
        self.pose = ChoiceField(
            POSE_WORDS.items(),
            name="Pose",
            reason="Ready to print: each half on its outer face, centred. As assembled: both where they\n"
            "meet, for looking at them in another program.",
        )
        self.pose.chosen.connect(lambda key: self.desk.set_pose(cast(Pose, key)))
        self.folder = button(
            "Choose a folder…",
            "Where the files go; the folder need not exist yet. You are asked when none is chosen.",
            self.desk.folder_asked.emit,
        )
        self.folder.setMinimumWidth(40)  # a long name widens no card
        self.add(Sentence("W&rite them {pose} into {folder}", {"pose": self.pose, "folder": self.folder}))
        self.printer = PrinterEntry(self.desk)
        self.add(self.printer)
        self.written = note()
        self.add(self.written)
        self.look_in = button(
            "Open the folder",
            "Shows the written files in the system's own window.",
            self.desk.folder_shown.emit,
            link=True,
        )
        self.add(self.look_in)
        self.files = note()
        self.add(self.files)
        self.buy = note()
        self.add(self.buy)

    def refresh(self) -> None:
        """Show pose, folder and the last export."""
        self.printer.show_printer(self.spec.printer)
        self.pose.show_key(self.desk.pose)
        folder = self.desk.export_folder
        self.folder.setText(_short(folder) if folder else "Choose a folder…")
        self.folder.setAccessibleDescription(str(folder or ""))
        files = self.desk.exported
        names = "\n".join(f"✓ {f.name}" for f in files)
        show_note(self.written, f"Written into {_breakable(files[0].parent)}:" if files else "")
        self.look_in.setVisible(bool(files))
        show_note(self.files, names)
        show_note(self.buy, bill_words(self.desk.result.bill) if self.desk.result else "")

    def summary(self) -> str:
        """Say what was written, or whether the halves are fit to be."""
        desk = self.desk
        fails = counted(len(desk.fails), "fail")
        if desk.exported:
            where = f"Written into {desk.exported[0].parent.name}"
            return f"{where}, with {fails}: see the proof." if desk.fails else f"{where}."
        if desk.failure:
            return "Not made as wished; see the proof."
        if desk.measuring:
            return "Being measured…"
        return f"{fails}, see the proof." if desk.fails else _READY[desk.pose]

    def is_done(self) -> bool:
        """Whether the halves as they are now have been written."""
        return bool(self.desk.exported)


def bill_words(lines: Iterable[BillLine]) -> str:
    """Say what has to be bought, a line each; empty where it is nothing."""
    said = [
        f"{line.count} × {line.what}"
        f"{f', {line.standard}' if line.standard else ''}{f' ({line.purpose})' if line.purpose else ''}"
        for line in lines
        if line.count > 0
    ]
    return "\n".join(["To buy, also in parts.csv:", *said]) if said else ""


def _breakable(folder: Path) -> str:
    """Return a path that a narrow note can wrap between its folders."""
    return str(folder).replace(os.sep, f"{os.sep}\u200b")


def _short(folder: Path, most: int = 26) -> str:
    text = str(folder)
    return text if len(text) <= most else f"…{text[-most:]}"
