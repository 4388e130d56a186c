"""Where what was read lies beside what was expected, to be drawn as a small scale."""

from dataclasses import dataclass

from cases.services.sharing import ReadingView


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """Where read, healthy and claimed values lie between 0 and 100, to be drawn."""

    read: float
    healthy: float
    claimed: float | None
    zero: float | None


def scale_of(reading: ReadingView) -> Scale | None:
    """Return the scale of a reading, or None where there is nothing to compare."""
    if reading.value is None or reading.healthy is None:
        return None
    values = [reading.value, reading.healthy, 0.0]
    if reading.claimed is not None:
        values.append(reading.claimed)
    low, high = min(values), max(values)
    if high - low <= 0:
        return None

    def at(value: float) -> float:
        return round(4 + 92 * (value - low) / (high - low), 2)

    return Scale(
        read=at(reading.value),
        healthy=at(reading.healthy),
        claimed=at(reading.claimed) if reading.claimed is not None else None,
        zero=at(0.0),
    )
