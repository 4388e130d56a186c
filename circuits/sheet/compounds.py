"""Compound faults of a sheet, held against the faults that its circuit can have."""

from collections.abc import Iterator

from circuits.engine import Compound, Network, Suspect, suspects
from circuits.predicting.severities import NotOnScale, SeverityScale
from circuits.sheet.errors import Flaw
from circuits.sheet.kinds import nearest
from circuits.sheet.model import CompoundEntry, CompoundMember, Sheet

#: Fewer are no compound but a fault that the circuit has anyway.
FEWEST_FAULTS = 2


def compound_flaws(sheet: Sheet) -> Iterator[Flaw]:
    """Yield what is wrong with the compound faults by themselves, whatever the circuit."""
    for index, compound in enumerate(sheet.compounds):
        named = [member.suspect for member in compound.faults]
        twice = next((suspect for suspect in named if named.count(suspect) > 1), "")
        problem = mend = ""
        if twice:
            problem, mend = f"it names {twice} twice.", "Keep one of the two."
        elif len(named) < FEWEST_FAULTS:
            problem = "one fault by itself is no compound." if named else "it names no fault."
            mend = "Name two or more, such as '| low-volts:B1 0.6 V; resistance:B1 40 mOhm'."
        if problem:
            yield Flaw(
                subject=compound.key,
                problem=problem,
                mend=mend,
                entry=("compounds", index),
                at=twice or compound.key,
            )


def compounds_of(sheet: Sheet, network: Network) -> tuple[tuple[Compound, ...], list[Flaw]]:
    """Return the compound faults as the engine takes them, and what it would not take."""
    if not sheet.compounds:
        return (), []
    known = {suspect.id: suspect for suspect in suspects(network)}
    flaws: list[Flaw] = []
    compounds = []
    for index, entry in enumerate(sheet.compounds):
        faults = []
        for member in entry.faults:
            try:
                faults.append((member.suspect, _severity(member, known)))
            except NotOnScale as refused:
                flaws.append(_flaw(entry, index, member, refused, known))
        compounds.append(Compound(name=entry.key, words=entry.words, faults=tuple(faults)))
    return tuple(compounds), flaws


def _severity(member: CompoundMember, known: dict[str, Suspect]) -> float:
    if member.suspect not in known:
        raise NotOnScale(
            f"'{member.suspect}' is not a fault this circuit can have.",
            nearest(member.suspect, list(known))
            or "Write the kind of fault and the part or connection, such as resistance:W1.",
        )
    suspect = known[member.suspect]
    if not suspect.graded:
        raise NotOnScale(
            f"{suspect.describe()}: that is so or it is not, but a compound comes in degrees.",
            "Take it out; claim it by itself.",
        )
    return SeverityScale(suspect).read(member.severity, on_paper=True)


def _flaw(
    entry: CompoundEntry,
    index: int,
    member: CompoundMember,
    refused: NotOnScale,
    known: dict[str, Suspect],
) -> Flaw:
    is_known = member.suspect in known and known[member.suspect].graded
    return Flaw(
        subject=entry.key,
        problem=f"{member.suspect}: {refused.problem}" if is_known else refused.problem,
        mend=refused.mend,
        entry=("compounds", index),
        at=member.severity if is_known else member.suspect,
    )
