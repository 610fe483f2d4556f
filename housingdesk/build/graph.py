"""A keyed graph of pure steps.

A step sees only the small slice of the spec that it reads, and the values of the steps it builds on.  Its key
is a hash of its name, version, quality, slice and input keys; equal keys mean equal values, so undo, and
everything a change does not touch, is a look-up.
"""

from __future__ import annotations

import hashlib
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
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
    light : whether its draft is so much lighter that much work goes on with it even where the final is known.
    phrase : what to tell the user while it runs.
    """

    name: str
    version: int
    reads: Callable[[Spec], Any]
    inputs: tuple[str, ...]
    run: Callable[..., Any]
    by_quality: bool = False
    phrase: str = ""
    light: bool = False


class _Run:
    """One request: what is asked, who is told, and the keys found on the way."""

    def __init__(
        self, spec: Spec, quality: Quality, tell: ProgressCall | None, seconds: dict[str, float] | None
    ) -> None:
        self.spec, self.quality, self.seconds = spec, quality, seconds
        self.keys: dict[tuple[str, Quality], str] = {}
        self._tell, self._one_at_a_time = tell, threading.Lock()

    def tell(self, phrase: str) -> None:
        """Pass a phrase on, from whatever thread."""
        if self._tell is not None and phrase:
            with self._one_at_a_time:
                self._tell(phrase, None)


class Graph:
    """Evaluates nodes and keeps their latest values, oldest dropped first.

    Inputs that do not wait for each other are made side by side.  That changes no value: steps are pure.
    """

    def __init__(
        self, nodes: tuple[Node, ...], keep: int = 200, much_work: Callable[[Spec], bool] = lambda _: False
    ) -> None:
        self._nodes = {n.name: n for n in nodes}
        self._much_work = much_work
        self._kept: OrderedDict[str, Any] = OrderedDict()
        self._keep = keep
        self._lock = threading.Lock()
        self._making: dict[str, threading.Lock] = {}

    def key(self, name: str, spec: Spec, quality: Quality) -> str:
        """Return the content key of a node's value."""
        return self._key(name, quality, _Run(spec, quality, None, None))

    def value(
        self,
        name: str,
        spec: Spec,
        quality: Quality,
        tell: ProgressCall | None = None,
        seconds: dict[str, float] | None = None,
    ) -> Any:
        """Return a node's value; a draft takes the final value where that is already known.

        Light nodes are the exception where there is much work: there the draft stays a draft.

        Parameters
        ----------
        tell : gets the phrases of the steps made, one call at a time, perhaps from another thread.
        seconds : gets how long each step made took; steps side by side each count in full.
        """
        return self.values(spec, quality, tell, seconds)(name)

    def values(
        self,
        spec: Spec,
        quality: Quality,
        tell: ProgressCall | None = None,
        seconds: dict[str, float] | None = None,
    ) -> Callable[[str], Any]:
        """Return what gives the values of one spec by node name, see ``value``; its keys are found once."""
        run = _Run(spec, quality, tell, seconds)
        return lambda name: self._value(name, run)

    def _key(self, name: str, quality: Quality, run: _Run) -> str:
        found = run.keys.get((name, quality))
        if found is None:
            node = self._nodes[name]
            text = "|".join(
                [node.name, str(node.version), quality if node.by_quality else "", repr(node.reads(run.spec))]
                + [self._key(i, quality, run) for i in node.inputs]
            )
            found = run.keys[name, quality] = hashlib.sha256(text.encode()).hexdigest()
        return found

    def _known(self, name: str, run: _Run) -> tuple[Any] | None:
        """Return a value that is kept, in a tuple of one."""
        heavy = self._nodes[name].light and self._much_work(run.spec)
        grades: tuple[Quality, ...] = (run.quality,) if heavy else ("final", run.quality)
        keys = [self._key(name, grade, run) for grade in grades]
        with self._lock:
            for key in keys:
                if key in self._kept:
                    self._kept.move_to_end(key)
                    return (self._kept[key],)
        return None

    def _value(self, name: str, run: _Run) -> Any:
        known = self._known(name, run)
        if known:
            return known[0]
        key = self._key(name, run.quality, run)
        with self._lock:
            turn = self._making.setdefault(key, threading.Lock())
        with turn:  # whoever asks for the same value meanwhile waits for it
            known = self._known(name, run)
            if known:
                return known[0]
            try:
                out = self._made(self._nodes[name], run)
                with self._lock:
                    # A draft built on final inputs is final: its key says so only if the inputs' keys do.
                    self._kept[key] = out
                    while len(self._kept) > self._keep:
                        self._kept.popitem(last=False)
            finally:
                with self._lock:
                    self._making.pop(key, None)
        return out

    def _made(self, node: Node, run: _Run) -> Any:
        """Run a step on its inputs."""
        inputs = self._inputs(node, run)
        run.tell(node.phrase)
        start = time.perf_counter()
        out = node.run(node.reads(run.spec), run.quality, *inputs)
        if run.seconds is not None:
            run.seconds[node.name] = time.perf_counter() - start
        return out

    def _inputs(self, node: Node, run: _Run) -> list[Any]:
        """Return the values of a step's inputs, making the missing ones side by side.

        Raises
        ------
        What the first input to fail raised, in the order of the inputs: the same whatever thread was quicker.
        """
        missing = [i for i in dict.fromkeys(node.inputs) if self._known(i, run) is None]
        if len(missing) > 1:
            with ThreadPoolExecutor(len(missing)) as pool:
                for made in [pool.submit(self._value, name, run) for name in missing]:
                    made.result()
        return [self._value(i, run) for i in node.inputs]
