"""A tree of boxes: which of many elements can lie in a query box, without looking at all of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from housingdesk.geometry.types import Floats

LEAF = 2  # elements a leaf; `box_tree` pairs them
_BITS = 10  # Morton bits an axis


@dataclass(frozen=True, eq=False)
class BoxTree:
    """A complete binary tree in heap order: node i has the children 2i and 2i + 1, node 1 is the root.

    Attributes
    ----------
    order : (n,) int64, the elements in tree order; leaf k holds ``order[LEAF * k : LEAF * (k + 1)]``.
    low, high : (2 m, 3) corners of every node; empty nodes have low = +inf and high = -inf.
    leaves : m, a power of two; nodes m to 2 m - 1 are the leaves.
    """

    order: NDArray[np.int64]
    low: Floats
    high: Floats
    leaves: int


def box_tree(low: Floats, high: Floats) -> BoxTree:
    """Return the tree of n boxes, sorted along a Morton curve of their middles.

    Parameters
    ----------
    low, high : (n, 3) corners; any unit, axes may differ in unit. n may be 0.
    """
    count = len(low)
    order = np.argsort(_morton((low + high) / 2), kind="stable").astype(np.int64)
    leaves = 1
    while leaves * LEAF < count:
        leaves *= 2
    node_low = np.full((2 * leaves, 3), np.inf)
    node_high = np.full((2 * leaves, 3), -np.inf)
    padded_low = np.full((leaves * LEAF, 3), np.inf)
    padded_high = np.full((leaves * LEAF, 3), -np.inf)
    padded_low[:count] = low[order]
    padded_high[:count] = high[order]
    node_low[leaves:] = np.minimum(padded_low[::2], padded_low[1::2])
    node_high[leaves:] = np.maximum(padded_high[::2], padded_high[1::2])
    level = leaves // 2
    while level:
        left, right = slice(2 * level, 4 * level, 2), slice(2 * level + 1, 4 * level, 2)
        node_low[level : 2 * level] = np.minimum(node_low[left], node_low[right])
        node_high[level : 2 * level] = np.maximum(node_high[left], node_high[right])
        level //= 2
    return BoxTree(order, node_low, node_high, leaves)


def _morton(middles: Floats) -> NDArray[np.uint64]:
    """Interleave the bits of the three coordinates (Morton, 1966), each scaled to its own range."""
    if not len(middles):
        return np.zeros(0, np.uint64)
    start, span = middles.min(axis=0), np.ptp(middles, axis=0)
    scaled = (middles - start) / np.where(span > 0, span, 1.0) * (2**_BITS - 1)
    cells = scaled.astype(np.uint64)
    code = np.zeros(len(middles), np.uint64)
    for bit in range(_BITS):
        for axis in range(3):
            code |= ((cells[:, axis] >> np.uint64(bit)) & np.uint64(1)) << np.uint64(3 * bit + axis)
    return code
