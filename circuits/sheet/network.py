"""From a sheet to the engine: the network, its phases and the places that can be predicted."""

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace

from circuits.engine import (
    HIGHEST_VOLTS,
    Absent,
    BadPart,
    ContradictoryNetwork,
    Driver,
    EngineError,
    Network,
    Part,
    Phase,
    PhaseSolution,
    Place,
    RuleContact,
    Switch,
    solve,
)
from circuits.sheet.alternatives import exchanged, open_rules, with_part
from circuits.sheet.checks import find_flaws
from circuits.sheet.compounds import compounds_of
from circuits.sheet.errors import Flaw, SheetErrors
from circuits.sheet.kinds import (
    HIGH_VOLTAGE_MEND,
    KINDS,
    ValueRefused,
)
from circuits.sheet.making import Ends, make_asleep, make_part
from circuits.sheet.model import OHM_UNITS, PartEntry, PartState, PlaceEntry, Sheet
from circuits.sheet.variants import Variant, read_variants


def to_network(sheet: Sheet) -> Network:
    """Return the engine's network of a sheet; phases go by their keys.

    Raises
    ------
    SheetErrors
        Everything in the sheet that must be mended first.
    """
    flaws = find_flaws(sheet)
    if flaws:
        raise SheetErrors(flaws)
    return _Builder(sheet).network()


def proven_network(sheet: Sheet) -> Network:
    """Return the network of a sheet once the engine has solved it in every phase.

    Raises
    ------
    SheetErrors
        As in `to_network`; or the circuit contradicts itself, or holds dangerous volts.
    """
    network = _solvable(sheet)
    for part in open_rules(sheet):
        _solvable(with_part(sheet, exchanged(part)))
    return network


def _solvable(sheet: Sheet) -> Network:
    network = to_network(sheet)
    try:
        solutions = solve(network)
    except EngineError as error:
        raise SheetErrors(_flaws_of(error, sheet)) from error
    flaws = [flaw for solution in solutions for flaw in _dangerous(sheet, solution)]
    if flaws:
        raise SheetErrors(flaws[:1])
    return network


def _dangerous(sheet: Sheet, solution: PhaseSolution) -> Iterator[Flaw]:
    """Yield a flaw where volts add up to more than this program deals with."""
    known = {node: volts for node, volts in solution.volts.items() if volts is not None}
    highest = max(known, key=lambda node: known[node])
    lowest = min(known, key=lambda node: known[node])
    if known[highest] - known[lowest] > HIGHEST_VOLTS:
        index = [connection.node for connection in sheet.connections].index(highest)
        yield Flaw(
            subject=highest,
            problem=f"in phase '{solution.phase}' it stands {known[highest] - known[lowest]:.0f} V "
            f"above {lowest}, more than {HIGHEST_VOLTS:g} V DC.",
            mend=HIGH_VOLTAGE_MEND,
            entry=("connections", index),
            at=highest,
        )


def _flaws_of(error: EngineError, sheet: Sheet) -> Iterator[Flaw]:
    """Turn what the engine refuses into flaws at the lines of the parts it names."""
    reasons = error.reasons if isinstance(error, ContradictoryNetwork) else (str(error),)
    for reason in reasons:
        words = set(re.findall(r"[\w./+\-]+", reason))
        named = [index for index, part in enumerate(sheet.parts) if part.name in words]
        yield Flaw(
            subject=sheet.parts[named[0]].name if named else "circuit",
            problem=f"{reason}.",
            mend="Mend the drawing.",
            entry=("parts", named[0]) if named else None,
        )


def engine_places(sheet: Sheet) -> tuple[Place, ...]:
    """Return the places of a sheet that the engine can predict."""
    return tuple(engine_place(place) for place in sheet.places if not place.not_computed)


def engine_place(place: PlaceEntry) -> Place:
    """Return one place as the engine knows it."""
    if place.through:
        return Place(key=place.key, through=place.through, reversed_clamp=place.against)
    reads_ohms = place.unit in OHM_UNITS
    return Place(key=place.key, red=place.red, black=place.black, reads_ohms=reads_ohms)


class _Builder:
    """Builds one network, collecting what the engine refuses."""

    def __init__(self, sheet: Sheet) -> None:
        self.sheet = sheet
        self.flaws: list[Flaw] = []
        self.variants = {
            part.name: read_variants(part, KINDS[part.kind], sheet.phase_keys)[0]
            for part in sheet.parts
        }

    def network(self) -> Network:
        drawn: list[Part] = []
        by_phase: Mapping[str, dict[str, Part]] = {key: {} for key in self.sheet.phase_keys}
        for index, entry in enumerate(self.sheet.parts):
            parts = self._parts(entry, index)
            if not parts:
                continue
            base = next(
                (part for part in parts.values() if not isinstance(part, Absent)),
                next(iter(parts.values())),
            )
            drawn.append(base)
            for phase, part in parts.items():
                if part != base:
                    by_phase[phase][entry.name] = part
        if self.flaws:
            raise SheetErrors(self.flaws)
        vehicle = self.sheet.vehicle
        try:
            network = Network(
                parts=tuple(drawn),
                phases=tuple(
                    Phase(name=phase.key, key_state=phase.key_state, changes=by_phase[phase.key])
                    for phase in self.sheet.phases
                ),
                zero=vehicle.zero,
                body=vehicle.body,
                supply=vehicle.plus,
            )
        except EngineError as error:
            raise SheetErrors(_flaws_of(error, self.sheet)) from error
        compounds, flaws = compounds_of(self.sheet, network)
        if flaws:
            raise SheetErrors(flaws)
        return replace(network, compounds=compounds)

    def _parts(self, entry: PartEntry, index: int) -> dict[str, Part]:
        try:
            return {
                phase: self._part(entry, variant)
                for phase, variant in self.variants[entry.name].items()
            }
        except BadPart as error:
            problem = f"{error.problem.replace('_', ' ')}."
            mend = "Check the values of this part."
        except ValueRefused as error:
            problem, mend = error.problem, error.mend
        self.flaws.append(
            Flaw(subject=entry.name, problem=problem, mend=mend, entry=("parts", index))
        )
        return {}

    def _part(self, entry: PartEntry, variant: Variant) -> Part:
        ends = Ends(name=entry.name, first=entry.first, second=entry.second, third=entry.third)
        if variant.state is PartState.ABSENT:
            return Absent(**ends.as_arguments())
        if variant.state is not None:
            return self._resting(entry, ends, variant)
        return make_part(
            KINDS[entry.kind], ends, variant.numbers, variant.texts, winding_ohms=self._winding_ohms
        )

    def _resting(self, entry: PartEntry, ends: Ends, variant: Variant) -> Part:
        """Return an open switch or a disabled rule, with the values it has when it works."""
        working = next(
            (other for other in self.variants[entry.name].values() if other.state is None), variant
        )
        kind = KINDS[entry.kind]
        if kind.word == "rule":
            made = make_part(
                kind, ends, working.numbers, working.texts, winding_ohms=self._winding_ohms
            )
            assert isinstance(made, RuleContact)
            return _disabled(made)
        if variant.state is PartState.ASLEEP:
            return make_asleep(kind, ends, working.numbers)
        if "closed_ohms" not in working.numbers:
            raise ValueRefused(
                f"its ohms when closed are not given, for a {kind.word} that is never closed.",
                "Write them first, such as '15 mOhm; otherwise: open'.",
            )
        maker: Callable[..., Part] = {"switch": Switch, "driver": Driver}[kind.word]
        return maker(**ends.as_arguments(), **working.numbers, closed=False)

    def _winding_ohms(self, winding: str) -> float:
        return next(
            variant.numbers["ohms"]
            for variant in self.variants[winding].values()
            if "ohms" in variant.numbers
        )


def _disabled(rule: RuleContact) -> RuleContact:
    return replace(rule, enabled=False)
