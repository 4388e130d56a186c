"""The reading that decided, drawn: what was read beside what each side of the matter allows.

What the parts' tolerances leave to a prediction is one bar, what the meter leaves to the reading
is another; where the two do not meet, the reading speaks against it, and the gap says by how much.
"""

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from cases.circuit import CaseCircuit
from cases.documents.verdicts import FindingDocument, JudgedReading, Judgement
from cases.models import HEALTHY, Statistic
from cases.views.reading_words import DOES_NOT_FIT, phase_words, place_label, shown, unit_at
from circuits.units import format_quantity

CANNOT_SAY = "cannot say"
IN_ORDER = "The circuit in order"
#: The bars end so far from the edges of the drawing, of 100.
MARGIN = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RangeRow:
    """One bar: a figure and how far it may lie off, in words and between 0 and 100.

    `mark` is 'read' for the meter's bar, 'healthy' or 'claimed' for those of the model.
    """

    mark: str
    label: str
    figure: str
    words: str
    low: float
    at: float
    high: float

    @property
    def width(self) -> float:
        return round(self.high - self.low, 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class RangeBars:
    """The bars of one reading; `left` and `right` are what the drawing ends at."""

    title: str
    place: str
    phase: str
    verdict: str
    rows: tuple[RangeRow, ...]
    left: str
    right: str

    @property
    def meter_low(self) -> float:
        """Where the meter's band begins, which is drawn behind all rows."""
        return self.rows[0].low

    @property
    def meter_width(self) -> float:
        return self.rows[0].width


def range_bars(
    judgement: Judgement, finding: FindingDocument, circuit: CaseCircuit | None
) -> RangeBars | None:
    """Return the bars of the reading that decided on a finding, beside the circuit in order.

    Where none decided it is the reading that comes nearest to it. None where there is nothing to
    draw: an OL, or a verdict of an engine that did not tell model and meter apart.
    """
    number = _number_shown(judgement, finding)
    if number is None:
        return None
    reading = judgement.readings[number]
    meter = reading.meter_reach
    if meter is None or not math.isfinite(reading.value + meter):
        return None
    unit = unit_at(circuit, reading.place)
    read = _Stretch(reading.value - meter, reading.value, reading.value + meter)
    beside = [
        (mark, label, stretch)
        for mark, label, each in _suspects(judgement, finding)
        if (stretch := _stretch(each, number)) is not None
    ]
    if not beside:
        return None
    ends = [end for stretch in (read, *(each[2] for each in beside)) for end in stretch.ends]
    scale = _Scale(min(ends), max(ends))
    heard = _heard(reading, read, scale)
    rows = [_bar("read", "Read", heard, scale, _meter_words(reading, meter, unit), unit)]
    rows += [
        _bar(mark, label, stretch, scale, _model_words(stretch, heard, unit), unit)
        for mark, label, stretch in beside
    ]
    return RangeBars(
        title=_title(finding),
        place=f"{reading.place} {place_label(circuit, reading.place)}".strip(),
        phase=phase_words(circuit, reading.phase),
        verdict=_verdict(judgement, finding, number, heard, unit),
        rows=tuple(rows),
        left=shown(scale.low, unit),
        right=shown(scale.high, unit),
    )


def _suspects(
    judgement: Judgement, finding: FindingDocument
) -> Iterator[tuple[str, str, FindingDocument]]:
    yield "healthy", IN_ORDER, judgement.healthy
    if finding.suspect != HEALTHY:
        yield "claimed", finding.severity_words or finding.words, finding


def _number_shown(judgement: Judgement, finding: FindingDocument) -> int | None:
    """Return which reading to draw: the one that decided, else the one that comes nearest to it."""
    decided = [
        number
        for number, reading in enumerate(judgement.readings)
        if reading.number == finding.deciding
        # The supply noted beside a reading has the same number as that reading.
        and finding.because.startswith(f"{reading.place} in ")
    ]
    if decided:
        return decided[0]
    healthy = judgement.healthy
    if finding.suspect == HEALTHY:
        return _farthest(abs(distance) for distance in healthy.distance)
    if len(finding.predicted) != len(healthy.predicted) or not finding.model_reach:
        return None
    return _farthest(
        _apart(abs(one - other), reach + (reading.meter_reach or 0.0))
        for reading, one, other, reach in zip(
            judgement.readings,
            finding.predicted,
            healthy.predicted,
            finding.model_reach,
            strict=True,
        )
    )


def _apart(distance: float, reach: float) -> float:
    return distance / reach if reach > 0 and math.isfinite(distance) else 0.0


def _farthest(distances: Iterable[float]) -> int | None:
    listed = list(distances)
    return max(range(len(listed)), key=listed.__getitem__) if listed else None


@dataclass(frozen=True, slots=True)
class _Stretch:
    """From where to where a figure may lie, in the base unit."""

    low: float
    at: float
    high: float

    @property
    def ends(self) -> tuple[float, float]:
        return self.low, self.high

    def gap_to(self, other: "_Stretch") -> float:
        """Return how far two stretches are apart; nought or less where they meet."""
        return max(self.low - other.high, other.low - self.high)


@dataclass(frozen=True, slots=True)
class _Scale:
    low: float
    high: float

    def at(self, value: float) -> float:
        span = self.high - self.low
        share = (value - self.low) / span if span > 0 else 0.5
        return round(MARGIN + (100 - 2 * MARGIN) * min(max(share, 0.0), 1.0), 2)


def _stretch(finding: FindingDocument, number: int) -> _Stretch | None:
    if number >= len(finding.model_reach):
        return None
    at, reach = finding.predicted[number], finding.model_reach[number]
    if not math.isfinite(at + reach):
        return None
    return _Stretch(at - reach, at, at + reach)


def _heard(reading: JudgedReading, read: _Stretch, scale: _Scale) -> _Stretch:
    """Return what a reading says of the steady figure: a minimum bounds it from below alone."""
    if reading.statistic == Statistic.MINIMUM:
        return _Stretch(read.low, read.at, scale.high)
    if reading.statistic == Statistic.MAXIMUM:
        return _Stretch(scale.low, read.at, read.high)
    return read


def _bar(
    mark: str, label: str, stretch: _Stretch, scale: _Scale, words: str, unit: str
) -> RangeRow:
    return RangeRow(
        mark=mark,
        label=label,
        figure=shown(stretch.at, unit),
        words=words,
        low=scale.at(stretch.low),
        at=scale.at(stretch.at),
        high=scale.at(stretch.high),
    )


def _meter_words(reading: JudgedReading, meter: float, unit: str) -> str:
    words = f"the meter may be off by {format_quantity(meter, unit)}"
    if reading.statistic == Statistic.MINIMUM:
        return f"{words}; a minimum, so the steady figure lies here or above"
    if reading.statistic == Statistic.MAXIMUM:
        return f"{words}; a maximum, so the steady figure lies here or below"
    return words


def _model_words(stretch: _Stretch, heard: _Stretch, unit: str) -> str:
    low, high = format_quantity(stretch.low, unit), format_quantity(stretch.high, unit)
    allowed = (
        f"the parts' tolerances allow {low} to {high}" if low != high else "no tolerance in it"
    )
    gap = stretch.gap_to(heard)
    if gap > 0:
        return f"{allowed}; {format_quantity(gap, unit)} away from what was read"
    return f"{allowed}; what was read lies within, by itself"


def _title(finding: FindingDocument) -> str:
    if finding.outcome == CANNOT_SAY:
        return "The reading that comes nearest to telling"
    return (
        "The reading that decided" if finding.deciding is not None else "The reading farthest off"
    )


def _verdict(
    judgement: Judgement, finding: FindingDocument, number: int, heard: _Stretch, unit: str
) -> str:
    """Return by how much a reading decided; empty where it did not."""
    excluded = finding if finding.outcome == DOES_NOT_FIT else judgement.healthy
    stretch = _stretch(excluded, number)
    if finding.outcome == CANNOT_SAY or excluded.outcome != DOES_NOT_FIT or stretch is None:
        return ""
    who = IN_ORDER if excluded.suspect == HEALTHY else "The claim"
    gap = stretch.gap_to(heard)
    if gap > 0:
        return (
            f"{who} is off by {format_quantity(gap, unit)} more than its parts and the meter "
            f"allow together: {_times(excluded.distance[number])} times their common uncertainty."
        )
    return (
        f"{who} is not excluded by this reading alone: the tolerances that it needs here do not go "
        "with what the other readings need."
    )


def _times(distance: float) -> str:
    return f"{abs(distance):.1f}" if abs(distance) < 10 else f"{abs(distance):.0f}"
