"""What is measured only while it is looked at: the gap all over the part, and what is cut for going in."""

from __future__ import annotations

from housingdesk.geometry.clearance_map import ClearanceMap, MapOn
from housingdesk.geometry.types import Mesh, Side
from housingdesk.jobs.messages import Answer, ClearanceMapped, FindRelief, Job, MapClearance, ReliefFound
from housingdesk.spec.models import Spec
from housingdesk.ui.pickdesk import PickDesk


class MapDesk(PickDesk):
    """Keeps the maps of the halves that are shown, and asks for them when they are looked at.

    Attributes
    ----------
    gaps_wanted, relief_wanted : whether the user looks at them.
    gaps_where : the surface that is coloured by the gaps.
    """

    def __init__(self) -> None:
        super().__init__()
        self.gaps_wanted = False
        self.relief_wanted = False
        self.gaps_where: MapOn = "part"
        self._gaps: dict[MapOn, tuple[Spec, ClearanceMap]] = {}
        self._relief: tuple[Spec, dict[Side, Mesh]] | None = None

    @property
    def gaps(self) -> ClearanceMap | None:
        """The gap all over the parts, or the cavity, of the halves shown, once it is measured."""
        found = self._gaps.get(self.gaps_where)
        return found[1] if found and self.result and found[0] == self.result.spec else None

    @property
    def relief(self) -> dict[Side, Mesh]:
        """What is cut from the halves shown only so that the part can go in, once it is found."""
        return self._relief[1] if self._relief and self.result and self._relief[0] == self.result.spec else {}

    def show_gaps(self, on: bool, where: MapOn | None = None) -> None:
        """Look at the gaps, or no longer; ``where`` chooses the surface that shows them."""
        self.gaps_wanted, self.gaps_where = on, where or self.gaps_where
        self._measure_maps()
        self.changed.emit()

    def show_relief(self, on: bool) -> None:
        """Look at what is cut for going in, or no longer."""
        self.relief_wanted = on
        self._measure_maps()
        self.changed.emit()

    def _measure_maps(self) -> None:
        """Ask for what is looked at and not known of the halves shown; only of final ones."""
        result = self.result
        if result is None or result.quality != "final" or result.spec != self.spec:
            return
        if self.gaps_wanted and self.gaps is None and not self._waits.for_purpose("gaps"):
            self._submit(MapClearance(result.spec, self.gaps_where), "gaps")
        known = self._relief is not None and self._relief[0] == result.spec
        if self.relief_wanted and not known and not self._waits.for_purpose("relief"):
            self._submit(FindRelief(result.spec), "relief")

    def _take_map(self, job: Job, answer: Answer) -> None:
        if isinstance(job, MapClearance) and isinstance(answer, ClearanceMapped):
            self._gaps[job.on] = (job.spec, answer.map)
        elif isinstance(job, FindRelief) and isinstance(answer, ReliefFound):
            self._relief = (job.spec, answer.bodies)
        self._measure_maps()  # the halves may have changed meanwhile, or where the gaps are looked at
