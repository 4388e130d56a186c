"""The drawing of a sheet: at rest, in a phase, with a fault."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from circuits.drawing.layout import lay_out
from circuits.drawing.measures import Measures
from circuits.drawing.packing import Layout
from circuits.drawing.plan import plan_of, rests_open
from circuits.drawing.state import PhaseState, states_of
from circuits.drawing.stripes import Marks
from circuits.drawing.svg import write_svg
from circuits.engine import Fault
from circuits.sheet import Sheet, to_network

LAYOUTS_KEPT = 64
STATES_KEPT = 64
#: What an A4 page leaves for a drawing below its head and cautions: width and height [mm].
UPRIGHT_MM, FLAT_MM = (190, 220), (277, 140)


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """A circuit drawn; `state` is what the phase does, None where no phase was asked for."""

    svg: str
    width: int
    height: int
    measures: Measures
    state: PhaseState | None

    @property
    def lies_flat(self) -> bool:
        """Whether the drawing comes out larger on a page turned on its side."""
        return self._scale(FLAT_MM) > self._scale(UPRIGHT_MM)

    def _scale(self, room_mm: tuple[int, int]) -> float:
        return min(room_mm[0] / self.width, room_mm[1] / self.height)


def draw(
    sheet: Sheet,
    *,
    phase: str | None = None,
    fault: Fault | None = None,
    nudges: Mapping[str, tuple[int, int]] | None = None,
    marked: Marks | None = None,
) -> Drawing:
    """Return the drawing of a sheet.

    Without a phase nothing is solved, so a sheet that is still being written can be drawn. The
    layout hangs on the sheet and the nudges alone: pictures of all phases lie on one another.

    Parameters
    ----------
    phase
        The key of the phase to show: contacts as they stand, bands of volts, arrows.
    fault
        A fault to put in; it shows in a phase only.
    nudges
        Part -> steps of the grid to the right, rows down. Parts that the sheet lacks are ignored.
    marked
        The parts on the ways of a pin, with where these enter them.

    Raises
    ------
    KeyError
        The sheet has no such phase.
    SheetErrors
        A phase was asked for, and the sheet makes no circuit that can be solved.
    """
    layout = _layout(sheet, frozenset((nudges or {}).items()))
    state = _states(sheet, fault)[phase] if phase is not None else None
    words = sheet.vehicle.title
    svg = write_svg(
        layout,
        title=words,
        resting=_resting(sheet),
        breaks=_breaks(sheet),
        state=state,
        marked=marked,
    )
    return Drawing(
        svg=svg,
        width=layout.width,
        height=layout.height,
        measures=layout.measures,
        state=state,
    )


# A slider through the phases asks for the same layout again and again; sheets never change.
@lru_cache(maxsize=LAYOUTS_KEPT)
def _layout(sheet: Sheet, nudges: frozenset[tuple[str, tuple[int, int]]]) -> Layout:
    return lay_out(plan_of(sheet), dict(nudges))


@lru_cache(maxsize=STATES_KEPT)
def _states(sheet: Sheet, fault: Fault | None) -> dict[str, PhaseState]:
    return states_of(to_network(sheet), fault)


def _resting(sheet: Sheet) -> dict[str, bool]:
    """Return which contacts are drawn made where no phase is asked for."""
    breaks = _breaks(sheet)
    return {
        part.name: part.name in breaks
        or (part.kind in ("switch", "driver") and not rests_open(part))
        for part in sheet.parts
    }


def _breaks(sheet: Sheet) -> frozenset[str]:
    return frozenset(
        part.name
        for part in sheet.parts
        if any(value.word == "normally closed" for each in part.settings for value in each.values)
    )
