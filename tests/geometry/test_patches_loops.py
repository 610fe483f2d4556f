"""The compiled helpers of flats and rounds against the libraries that do the same more slowly."""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from housingdesk.geometry.patches.net import grouped
from housingdesk.geometry.patches.sorting import components, numbered, order_of
from housingdesk.geometry.patches.vectors import least_direction, sides, solve


def test_keys_are_sorted_and_numbered_as_numpy_does() -> None:
    rng = np.random.default_rng(1)
    for most in (1, 50, 2**20, 2**62):
        keys = rng.integers(0, most, 700)
        np.testing.assert_array_equal(order_of(keys), np.argsort(keys, kind="stable"))
        _, first, number = np.unique(keys, return_index=True, return_inverse=True)
        found = numbered(keys)
        np.testing.assert_array_equal(found[0], first)
        np.testing.assert_array_equal(found[1], number)
    assert len(order_of(np.zeros(0, np.int64))) == 0


def test_pairs_are_joined_as_scipy_does() -> None:
    rng = np.random.default_rng(2)
    for pairs in (0, 60, 150, 900):
        a, b = rng.integers(0, 200, (2, pairs))
        graph = coo_matrix((np.ones(pairs), (a, b)), shape=(200, 200))
        count, label = connected_components(graph, directed=False)
        found = components(200, a, b)
        assert found[0] == count
        np.testing.assert_array_equal(found[1], label)


def test_groups_hold_the_positions_of_their_numbers() -> None:
    number = np.random.default_rng(3).integers(-1, 9, 80)
    groups = grouped(number, 2, 7)
    for i in range(5):
        here = groups.members[groups.start[i] : groups.start[i + 1]]
        np.testing.assert_array_equal(here, np.flatnonzero(number == i + 2))


def test_normal_equations_are_solved_and_say_what_the_step_gains() -> None:
    rng = np.random.default_rng(4)
    for n in (3, 5, 6):
        rows, off = rng.normal(size=(9, n)), rng.normal(size=9)
        m = np.zeros((6, 7))
        m[:n, :n], m[:n, 6] = rows.T @ rows, rows.T @ off
        step, rest, _, _ = np.linalg.lstsq(rows, off, rcond=None)
        assert np.isclose(off @ off - solve(m, n), rest[0])
        np.testing.assert_allclose(m[:n, 6], step, rtol=1e-9)
    flat = np.zeros((6, 7))
    flat[0, 0] = 1.0
    assert solve(flat, 3) < 0


def test_the_least_direction_is_near_the_library_s_and_sides_are_square_to_it() -> None:
    rng = np.random.default_rng(5)
    for _ in range(200):
        turn, _ = np.linalg.qr(rng.normal(size=(3, 3)))
        spread = turn @ np.diag([rng.uniform(0, 0.5), 1.0, rng.uniform(1, 1e4)]) @ turn.T
        x, y, z, middle = least_direction(*spread[np.triu_indices(3)])
        assert abs(turn[:, 0] @ (x, y, z)) > 1 - 1e-9
        assert 0.5 < middle < 2.5
        frame = np.array([(x, y, z), *np.reshape(sides(x, y, z), (2, 3))])
        np.testing.assert_allclose(frame @ frame.T, np.eye(3), atol=1e-12)
        assert np.linalg.det(frame) > 0
    assert least_direction(0.0, 0.0, 0.0, 0.0, 0.0, 1.0)[3] == 0.0
