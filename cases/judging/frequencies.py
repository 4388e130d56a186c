"""How often it was a fault before: verified cases as counts, with what so few of them allow."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

#: 95 % of a normal quantity lie within so many standard deviations.
_STANDARD_DEVIATIONS = 1.959964


@dataclass(frozen=True, slots=True)
class VerifiedCases:
    """Verified cases of a circuit by suspect; `of_vehicle` are those in the same make and model."""

    of_circuit: Mapping[str, int] = field(default_factory=dict)
    of_vehicle: Mapping[str, int] = field(default_factory=dict)

    @property
    def weights(self) -> dict[str, int]:
        """How much they count by suspect: one in the same vehicle twice (practice, no source)."""
        return {
            name: count + self.of_vehicle.get(name, 0) for name, count in self.of_circuit.items()
        }

    @property
    def total(self) -> int:
        return sum(self.of_circuit.values())

    def were_one_of(self, suspects: Iterable[str]) -> tuple[int, int]:
        """Return how many were one of some suspects: of the circuit, and in the same vehicle."""
        names = tuple(suspects)
        return (
            sum(self.of_circuit.get(name, 0) for name in names),
            sum(self.of_vehicle.get(name, 0) for name in names),
        )


def share_interval(count: int, total: int) -> tuple[float, float]:
    """Return the 95 % interval of a share of which `count` of `total` were seen.

    The score interval (E. B. Wilson, JASA 22, 1927, 209-212): it is of use for few cases, and for
    none or all of them.

    Raises
    ------
    ValueError
        There are none, or fewer than were counted.

    Examples
    --------
    >>> low, high = share_interval(3, 7)
    >>> f"{low:.0%} to {high:.0%}"
    '16% to 75%'
    """
    if not 0 <= count <= total or not total:
        raise ValueError(f"{count} of {total} is no share")
    share, z = count / total, _STANDARD_DEVIATIONS
    middle = share + z**2 / (2 * total)
    reach = z * math.sqrt(share * (1 - share) / total + z**2 / (4 * total**2))
    scale = 1 + z**2 / total
    return max((middle - reach) / scale, 0.0), min((middle + reach) / scale, 1.0)
