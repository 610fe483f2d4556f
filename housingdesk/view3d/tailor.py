"""Makes dressings in a thread of its own, so that the window never waits for one."""

from __future__ import annotations

from PySide6.QtCore import QObject, QRunnable, QThreadPool, Signal

from housingdesk.geometry.types import Mesh
from housingdesk.view3d.bodies import dress


class Tailor(QObject):
    """Takes meshes, gives dressings back through ``done`` in the thread it lives in."""

    done = Signal(object)

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        self._pool = QThreadPool(self)
        self._pool.setMaxThreadCount(1)
        self._busy: dict[tuple[int, bool], Mesh] = {}
        self._post = _Post(self)
        self._post.sent.connect(self._arrived)

    def make(self, mesh: Mesh, edges: bool) -> None:
        """Work out a mesh's dressing, unless that is under way."""
        job = (id(mesh), edges)  # the mesh is kept below, so its id stays its own
        if job not in self._busy:
            self._busy[job] = mesh
            self._pool.start(_Task(mesh, edges, self._post))

    def stop(self) -> None:
        """Drop what waits and see the running one out."""
        self._pool.clear()
        self._pool.waitForDone()
        self._post.sent.disconnect(self._arrived)

    def _arrived(self, dressing: object, mesh_id: int, edges: bool) -> None:
        self._busy.pop((mesh_id, edges), None)
        self.done.emit(dressing)


class _Post(QObject):
    sent = Signal(object, object, bool)  # the id is a Python int: Qt's has 32 bits


class _Task(QRunnable):
    def __init__(self, mesh: Mesh, edges: bool, post: _Post) -> None:
        super().__init__()
        self._mesh, self._edges, self._post = mesh, edges, post

    def run(self) -> None:
        """Make it and post it."""
        self._post.sent.emit(dress(self._mesh, self._edges), id(self._mesh), self._edges)
