"""Arrows of the play: one for each way that is left, and always what is turned about."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from housingdesk.geometry.freedom import Play
from housingdesk.proof.facts import PlayFacts
from housingdesk.view3d.arrows import arrows_seen, play_arrows
from housingdesk.view3d.camera import Eye, View

NONE = (0.0, 0.0)
OUTER = np.array([[-20.0, -10.0, 0.0], [20.0, 10.0, 12.0]])
LOOSE = Play((0.5, 0.0), (0.2, 0.2), NONE, (1.0, 1.0), NONE, NONE, NONE, 3.0, 45.0)


def test_no_arrow_says_zero() -> None:
    arrows = play_arrows(PlayFacts("shaft", (15.0, 0.0, 5.0), (1.0, 0.0, 0.0), LOOSE), OUTER)
    assert [a.words for a in arrows] == ["0.50 mm", "0.20 mm", "0.20 mm", "turns ±1.0° about the shaft"]
    assert arrows[3].from_mm == arrows[3].to_mm == pytest.approx((20.0, 0.0, 5.0))


def test_a_turn_is_an_arc_about_its_axis_with_a_head_where_it_turns() -> None:
    for axis in ((1.0, 0.0, 0.0), (0.0, 0.0, 2.0), (0.3, -0.4, 0.5)):
        one_way = replace(LOOSE, turn_deg=(0.0, 1.0))
        arrow = play_arrows(PlayFacts("shaft", (15.0, 0.0, 5.0), axis, one_way), OUTER)[-1]
        ring = np.array(arrow.around) - arrow.to_mm
        assert ring @ axis == pytest.approx(0.0, abs=1e-9)
        assert np.linalg.norm(ring, axis=1) == pytest.approx(0.06 * 40.0)
        # right-handed about its axis
        assert (np.cross(ring[:-1], ring[1:]) @ axis > 0).all()
        assert arrow.ends == (False, True)
        (seen,) = arrows_seen(Eye(View(), 900, 640), (arrow,))
        assert len(seen.around) == len(arrow.around)
        assert (seen.tail, seen.tip) == seen.around[-2:]


def test_a_part_that_is_held_is_said_to_be() -> None:
    held = replace(LOOSE, x_mm=NONE, y_mm=NONE, turn_deg=NONE)
    (words,) = play_arrows(PlayFacts("", (0.0, 0.0, 6.0), (0.0, 0.0, 1.0), held), OUTER)
    assert words.words == "does not move; does not turn about the upright axis"
    assert words.to_mm == pytest.approx((0.0, 0.0, 12.0))
    (words,) = play_arrows(
        PlayFacts("", (0.0, 0.0, 6.0), (0.0, 0.0, 1.0), replace(held, turn_deg=(0.02, 45.0))), OUTER
    )
    assert words.words == "does not move; turns 0.02° / free about the upright axis"
