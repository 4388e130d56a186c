"""What has to be done after a repair besides reading again: undo what was done, teach what is new.

What readings took apart or bridged is an undo line by itself; piercings and resets are added by
hand, and so are coding, teach-in, registration of a battery, software and part numbers. A case is
not verified while something is still undone: a bridge left in is the next accident.
"""

from collections.abc import Iterable, Iterator, Sequence

from cases.documents.cases import AfterKind, AfterLine
from cases.judging.lines import Line
from cases.models.case import Case
from cases.spots import is_on_bench


def after_lines(case: Case, lines: Sequence[Line]) -> tuple[AfterLine, ...]:
    """Return all work after the repair: what readings left undone, and what was added by hand."""
    kept = {line.key: line for line in map(AfterLine.model_validate, case.after_work)}
    undone = {line.key: line for line in undone_by(lines)}
    return tuple({**undone, **kept}.values())


def open_undo(case: Case, lines: Sequence[Line]) -> tuple[str, ...]:
    """Return what is still to be undone, in words."""
    return tuple(
        line.words
        for line in after_lines(case, lines)
        if line.kind is AfterKind.UNDO and not line.is_done
    )


def undone_by(lines: Iterable[Line]) -> Iterator[AfterLine]:
    """Yield what readings left undone, once for each that did; borrowed ones did nothing here."""
    for line in lines:
        if line.borrowed:
            continue
        if is_on_bench(line.place):
            yield _undo("bench", "the part read on the bench is fitted again")
            continue
        for name in line.rig.unplugged:
            yield _undo(f"unplugged {name}", f"{name} is plugged in again")
        for one, other in line.rig.bridged:
            yield _undo(f"bridge {one} - {other}", f"the bridge {one} - {other} is out")
        if line.rig.ammeter_in:
            yield _undo(
                f"ammeter {line.rig.ammeter_in}",
                f"{line.rig.ammeter_in} is joined again where the ammeter was",
            )
        if line.rig.power_removed:
            yield _undo(
                "power",
                "the battery is on again as its maker says, and what lost its settings is set",
            )


def _undo(key: str, words: str) -> AfterLine:
    return AfterLine(key=key, kind=AfterKind.UNDO, words=words)
