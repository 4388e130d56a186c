"""What readings may have been meant as: slips of the pen, of the leads, of the key.

A slip is offered where it makes the case whole. Where no single fault fits, or only such as would
have blown a fuse, any slip is looked for, which takes seconds. Where a fault does fit, one alone
that leaves the circuit in order, and that nobody sees while the leads are held: another phase, or a
figure a thousand times off. Nothing is changed by itself.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import compress

from cases.circuit import CaseCircuit
from cases.documents.looks import MendedSlip, Witness
from cases.documents.verdicts import JudgedReading
from cases.models.choices import HEALTHY
from cases.spots import key_between
from circuits.engine import (
    EngineError,
    Fault,
    MendedCase,
    Network,
    Reading,
    SlipKind,
    Verdict,
    could_be_sound,
    heard_of,
    judge,
    possible_slips,
    solve,
)
from circuits.units import format_in, format_quantity

MOVED = frozenset(
    {
        SlipKind.OTHER_PLACE,
        SlipKind.PLACES_SWAPPED,
        SlipKind.OTHER_PHASE,
        SlipKind.WHOLE_PHASE,
    }
)
OTHER_FIGURES = {SlipKind.THOUSAND_TOO_MUCH: 1e-3, SlipKind.THOUSAND_TOO_LITTLE: 1e3}
# Each doubted reading takes a second or so; of all, those that stand alone in the way come first.
MOST_DOUBTED = 3
MOST_FOR_ONE = 2
MOST_TOLD = 3
MOST_NAMED = 3
# A battery that sags, or a pin that is asked for, tells one phase from another by a volt or more.
# Common practice, no source.
LEAST_TELLING_VOLTS = 1.0
MOST_ASKED_ABOUT = 12
#: Whether a figure can be a thousandth or a thousandfold of what it should be, by its distance.
FAR_OFF = 4.0


def mended_slips(
    circuit: CaseCircuit, verdict: Verdict, judged: Sequence[JudgedReading], *, thoroughly: bool
) -> tuple[MendedSlip, ...]:
    """Return what readings may have been meant as, where that makes the case whole.

    Where no fault is to be believed they are looked for only `thoroughly`: it takes seconds.
    """
    if circuit.refusal or verdict.healthy.passes:
        return ()  # no other place is named where others have to take over
    if any(not finding.overloads for finding in verdict.fitting):
        sound = _leaving_a_sound_circuit(circuit, verdict)
        return tuple(_document(circuit, verdict, each, judged) for each in sound)
    return _of_any_kind(circuit, verdict, judged) if thoroughly else ()


def _leaving_a_sound_circuit(circuit: CaseCircuit, verdict: Verdict) -> Iterator[MendedCase]:
    """Yield other phases and figures with which a sound circuit gives all the readings."""
    ways = [*_other_phases(circuit, verdict), *_other_figures(verdict)]
    logs = [
        tuple(changes.get(number, reading) for number, reading in enumerate(verdict.readings))
        for _, changes in ways
    ]
    could = could_be_sound(circuit.network, logs, circuit.supplies)
    for (kind, changes), meant in compress(zip(ways, logs, strict=True), could):
        try:
            healthy = judge(
                circuit.network, meant, supply_places=circuit.supplies, rivals=False
            ).healthy
        except EngineError:
            continue  # such a figure is no supply, so it was not meant
        if healthy.passes:
            yield MendedCase(
                kind=kind,
                readings=meant,
                changed=tuple(changes),
                fits=(HEALTHY,),
                misfit=healthy.misfit,
                misfit_limit=healthy.misfit_limit,
            )


def _other_phases(
    circuit: CaseCircuit, verdict: Verdict
) -> Iterator[tuple[SlipKind, dict[int, Reading]]]:
    taken = {(reading.place.key, reading.phase) for reading in verdict.readings}
    for phase in dict.fromkeys(reading.phase for reading in verdict.readings):
        here = {n: each for n, each in enumerate(verdict.readings) if each.phase == phase}
        kind = SlipKind.WHOLE_PHASE if len(here) > 1 else SlipKind.OTHER_PHASE
        for other in circuit.network.phases:
            if not any((each.place.key, other.name) in taken for each in here.values()):
                yield kind, {n: replace(each, phase=other.name) for n, each in here.items()}


def _other_figures(verdict: Verdict) -> Iterator[tuple[SlipKind, dict[int, Reading]]]:
    healthy = verdict.healthy
    for number, reading in enumerate(verdict.readings):
        distance = healthy.distance[number]
        if not distance or reading.is_over_range:
            continue
        sigma = abs((reading.value - healthy.predicted[number]) / distance)
        for kind, factor in OTHER_FIGURES.items():
            value = reading.value * factor
            # Without this every figure would be judged twice for nothing.
            if abs(value - healthy.predicted[number]) <= FAR_OFF * sigma:
                yield kind, {number: replace(reading, value=value, step=reading.step * factor)}


def _of_any_kind(
    circuit: CaseCircuit, verdict: Verdict, judged: Sequence[JudgedReading]
) -> tuple[MendedSlip, ...]:
    found: list[MendedCase] = []
    told: set[tuple[SlipKind, tuple[int, ...]]] = set()
    doubted = [each for each in _doubted(verdict) if not judged[each].noted]
    for number in doubted[:MOST_DOUBTED]:
        mended = possible_slips(
            circuit.network,
            verdict.readings,
            number,
            places=tuple(circuit.places.values()),
            supply_places=circuit.supplies,
        )
        fresh = [each for each in mended if (each.kind, tuple(sorted(each.changed))) not in told]
        for each in fresh[:MOST_FOR_ONE]:
            told.add((each.kind, tuple(sorted(each.changed))))
            found.append(each)
    # A slip that leaves the car in order is the plainer answer than one that leaves a fault.
    plainer = [each for each in found if HEALTHY in each.fits]
    best = sorted(plainer or found, key=lambda each: each.misfit)
    return tuple(_document(circuit, verdict, each, judged) for each in best[:MOST_TOLD])


def _doubted(verdict: Verdict) -> list[int]:
    """Return the readings to doubt: those in the way, or else the farthest from a sound circuit."""
    in_the_way = [slip.reading for slip in verdict.slips]
    distance = verdict.healthy.distance
    return in_the_way or sorted(range(len(distance)), key=lambda each: -abs(distance[each]))


def _document(
    circuit: CaseCircuit, verdict: Verdict, mended: MendedCase, judged: Sequence[JudgedReading]
) -> MendedSlip:
    number = mended.changed[0]
    meant, written = mended.readings[number], judged[number]
    witness = None
    if meant.phase != written.phase and HEALTHY in mended.fits:
        witness = _witness(circuit, verdict, written.phase, meant.phase)
    return MendedSlip(
        number=written.number,
        kind=mended.kind.value,
        moved=mended.kind in MOVED,
        place=meant.place.key,
        phase=meant.phase,
        value=float(f"{meant.value:.6g}"),
        fits=mended.fits,
        misfit=float(f"{mended.misfit:.6g}"),
        misfit_limit=float(f"{mended.misfit_limit:.6g}"),
        witness=witness,
    )


def _witness(circuit: CaseCircuit, verdict: Verdict, written: str, meant: str) -> Witness | None:
    """Return the reading that tells a phase from the one that was perhaps meant.

    Whichever of the faults that fit it is, in the phase as written it shows something else there
    than a sound circuit does in the other one. A listed place comes before any other.
    """
    network = heard_of(circuit.network, verdict.readings, circuit.supplies).network
    sound = {each.phase: each for each in solve(network)}[meant].volts
    faulty = [
        {each.phase: each for each in solve(network, fault)}[written].volts
        for fault in _believed(verdict)
    ]
    taken = {each.place.key for each in verdict.readings if each.phase == written}
    for spots in (_listed(circuit, network), _of_nodes(circuit, network)):
        telling = []
        for key, red, black in spots:
            other = _drop(sound, red, black)
            drops = [_drop(volts, red, black) for volts in faulty]
            ones = [one for one in drops if one is not None]
            if key in taken or other is None or not ones or len(ones) < len(drops):
                continue
            distance, nearest = min((abs(one - other), one) for one in ones)
            if distance >= LEAST_TELLING_VOLTS:
                telling.append((distance, key, nearest, other))
        if telling:
            _, key, nearest, other = max(telling)
            return Witness(place=key, as_written=round(nearest, 3), as_meant=round(other, 3))
    return None


def _believed(verdict: Verdict) -> list[Fault]:
    return [
        Fault(suspect=finding.suspect, severity=finding.severity)
        for finding in verdict.fitting
        if finding.suspect is not None and finding.severity is not None and not finding.overloads
    ][:MOST_ASKED_ABOUT]


def _listed(circuit: CaseCircuit, network: Network) -> Iterator[tuple[str, str, str]]:
    for key, place in circuit.places.items():
        nodes = {place.red, place.black} <= set(network.nodes)
        if nodes and not place.reads_ohms and not circuit.is_barred(key):
            yield key, place.red, place.black


def _of_nodes(circuit: CaseCircuit, network: Network) -> Iterator[tuple[str, str, str]]:
    for node in network.nodes:
        if node != network.zero and node not in circuit.barred:
            yield key_between(node, network.zero), node, network.zero


def _drop(volts: Mapping[str, float | None], red: str, black: str) -> float | None:
    one, other = volts[red], volts[black]
    return None if one is None or other is None else one - other


# -------------------------------------------------------------------------------------- in words


def meant_words(circuit: CaseCircuit, slip: MendedSlip, logged: JudgedReading) -> str:
    """Say what a reading may have been meant as, what fits then, and what would tell."""
    words = slip.kind
    if slip.place != logged.place:
        words = f"{words}, {slip.place}"
    elif slip.phase != logged.phase:
        words = f"{words}, '{slip.phase}'"
    elif not slip.moved:
        words = f"{words}: {format_in(slip.value, _unit(circuit, slip.place))}"
    said = f"{logged.place} in '{logged.phase}' was perhaps {words}"
    if slip.kind == SlipKind.WHOLE_PHASE:
        said = f"all that was read in '{logged.phase}' was perhaps read in '{slip.phase}'"
    said = f"{said}; then {named(circuit, slip.fits)}"
    if slip.phase == logged.phase or HEALTHY not in slip.fits:
        return said
    if slip.witness is None:
        return (
            f"{said}. No volts of this circuit tell the two apart for all the faults that fit: "
            "repeat it with somebody at the key, or look for the request in live data"
        )
    one, other = (
        format_quantity(volts, "V") for volts in (slip.witness.as_written, slip.witness.as_meant)
    )
    return (
        f"{said}. {slip.witness.place} would tell: {other} in '{slip.phase}', no nearer than {one} "
        f"in '{logged.phase}'"
    )


def named(circuit: CaseCircuit, fits: Sequence[str]) -> str:
    """Say what fits, the circuit in order alone where it does."""
    if HEALTHY in fits:
        return "the circuit in order fits"
    suspects = circuit.suspects
    words = [suspects[name].describe() if name in suspects else name for name in fits]
    more = len(words) - MOST_NAMED
    said = "; ".join(words[:MOST_NAMED]) + (f"; and {more} more" if more > 0 else "")
    return f"{'this fits' if len(words) == 1 else 'these fit'}: {said}"


def _unit(circuit: CaseCircuit, place: str) -> str:
    entry = circuit.entry_at(place)
    return entry.unit if entry is not None else "V"
