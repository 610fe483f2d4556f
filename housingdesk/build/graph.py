"""A keyed graph of pure steps.

A step sees only the small slice of the spec that it reads, and the values of the steps it builds on.  Its key
is a hash of its name, version, quality, slice and input keys; equal keys mean equal values, so undo, and
everything a change does not touch, is a look-up.
"""

from __future__ import annotations

import hashlib
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from housingdesk.build.results import Quality
from housingdesk.spec.models import Spec

ProgressCall = Callable[[str, float | None], None]


@dataclass(frozen=True)
class Node:
    """One step.

    Attributes
    ----------
    version : raise it when ``run`` changes its answer.
    reads : the slice of the spec the step may see; its ``repr`` enters the key.
    inputs : names of the steps whose values ``run`` gets, in order, after the slice and the quality.
    by_quality : whether a draft differs from a final value.
    phrase : what to tell the user while it runs.
    """

    name: str
    version: int
    reads: Callable[[Spec], Any]
    inputs: tuple[str, ...]
    run: Callable[..., Any]
    by_quality: bool = False
    phrase: str = ""


class Graph:
    """Evaluates nodes and keeps their latest values, oldest dropped first."""

    def __init__(self, nodes: tuple[Node, ...], keep: int = 200) -> None:
        self._nodes = {n.name: n for n in nodes}
        self._kept: OrderedDict[str, Any] = OrderedDict()
        self._keep = keep

    def key(self, name: str, spec: Spec, quality: Quality) -> str:
        """Return the content key of a node's value."""
        node = self._nodes[name]
        text = "|".join(
            [node.name, str(node.version), quality if node.by_quality else "", repr(node.reads(spec))]
            + [self.key(i, spec, quality) for i in node.inputs]
        )
        return hashlib.sha256(text.encode()).hexdigest()

    def value(
        self,
        name: str,
        spec: Spec,
        quality: Quality,
        tell: ProgressCall | None = None,
        seconds: dict[str, float] | None = None,
    ) -> Any:
        """Return a node's value; a draft takes the final value where that is already known."""
        grades: tuple[Quality, ...] = ("final", quality)
        for grade in grades:
            key = self.key(name, spec, grade)
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]
        node = self._nodes[name]
        inputs = [self.value(i, spec, quality, tell, seconds) for i in node.inputs]
        if tell is not None and node.phrase:
            tell(node.phrase, None)
        start = time.perf_counter()
        out = node.run(node.reads(spec), quality, *inputs)
        if seconds is not None:
            seconds[name] = time.perf_counter() - start
        # A draft built on final inputs is a final value: its key says so only if the inputs' keys do.
        self._kept[self.key(name, spec, quality)] = out
        while len(self._kept) > self._keep:
            self._kept.popitem(last=False)
        return out
