"""Compiled loops: equal keys found, and pairs joined to wholes."""

from __future__ import annotations

import numpy as np
from numba import njit

from housingdesk.geometry.patches.triangles import Index

_BITS = 11  # a digit of the radix sort: its counts fit into the nearest cache


@njit(cache=True, nogil=True)
def order_of(keys: Index) -> Index:
    """Return the order that sorts keys, none below 0; equal ones stay as they were (radix sort)."""
    n, size = len(keys), 1 << _BITS
    order, other, count = np.arange(n), np.empty(n, np.int64), np.empty(size + 1, np.int64)
    most = keys.max() if n else 0
    shift = 0
    while shift < 63 and (most >> shift) > 0:
        count[:] = 0
        for i in range(n):
            count[((keys[i] >> shift) & (size - 1)) + 1] += 1
        for i in range(size):
            count[i + 1] += count[i]
        for i in range(n):
            digit = (keys[order[i]] >> shift) & (size - 1)
            other[count[digit]] = order[i]
            count[digit] += 1
        order, other = other, order
        shift += _BITS
    return order


@njit(cache=True, nogil=True)
def numbered(keys: Index) -> tuple[Index, Index]:
    """Give equal keys one number, in ascending order of key.

    Returns the position of the first of each, (k,), and the number of every key, (n,).
    """
    order = order_of(keys)
    first, number, k = np.empty(len(keys), np.int64), np.empty(len(keys), np.int64), 0
    for i in range(len(keys)):
        if i == 0 or keys[order[i]] != keys[order[i - 1]]:
            first[k] = order[i]
            k += 1
        number[order[i]] = k - 1
    return first[:k].copy(), number


@njit(cache=True, nogil=True)
def _root(parent: Index, i: int) -> int:
    while parent[i] != i:
        parent[i] = parent[parent[i]]
        i = parent[i]
    return i


@njit(cache=True, nogil=True)
def components(n: int, a: Index, b: Index) -> tuple[int, Index]:
    """Join n things by pairs (a[i], b[i]): how many wholes, and the one each is in, by their first things."""
    parent = np.arange(n)
    for i in range(len(a)):
        one, two = _root(parent, a[i]), _root(parent, b[i])
        parent[max(one, two)] = min(one, two)
    label, count = np.empty(n, np.int64), 0
    for i in range(n):
        if parent[i] == i:
            label[i] = count
            count += 1
        else:  # the root of a whole is its first
            label[i] = label[_root(parent, i)]
    return count, label
