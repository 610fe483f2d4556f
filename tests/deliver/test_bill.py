"""The parts list, read back by the csv module."""

from __future__ import annotations

import csv
import io

from housingdesk.deliver.bill import HEADINGS, parts_csv
from housingdesk.features.records import BillLine


def test_every_line_comes_back() -> None:
    lines = [
        BillLine(4, "socket head cap screw M3 x 16", "ISO 4762", "closing the housing"),
        BillLine(2, 'pin, "4 x 12"', "ISO 2338", "placing; the halves"),
    ]
    rows = list(csv.reader(io.StringIO(parts_csv(lines))))
    assert tuple(rows[0]) == HEADINGS
    assert rows[1:] == [[str(b.count), b.what, b.standard, b.purpose] for b in lines]


def test_nothing_to_buy_is_no_list() -> None:
    assert parts_csv([]) == ""
    assert parts_csv([BillLine(0, "nut")]) == ""
