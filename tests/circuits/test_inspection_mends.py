"""Each kind of finding comes with its fault and goes with its mend, on a small circuit each.

The figures behind the rules stand with their sources in `test_inspection`.
"""

from dataclasses import dataclass

import pytest

from circuits.inspection import FindingKind, inspect
from circuits.sheet import to_network
from tests.circuits.drawn import drawn

LAMP = """B1 battery BP - BN 12.6 V, 11 mOhm | measured
F1 fuse BP - F 20 A
S1 switch F - L 10 mOhm; off: open
W1 wire L - M 1.5 mm2, 1 m
H1 lamp M - BN 21 W | from its base"""
TAIL = """B1 battery BP - BN 12.6 V, 11 mOhm | measured
F1 fuse BP - A 10 A
S1 switch A - T 10 mOhm; off: open
S2 switch A - D 10 mOhm; off, on: open
tail lamp T - G 5 W | from its base
stop lamp D - GS 21 W | from its base
other lamp D - BN 21 W | from its base
Wg wire G - BN 1 mm2, 0.5 m
Ws wire GS - BN 1 mm2, 0.5 m"""
RELAY = """B1 battery BP - BN 12.6 V, 11 mOhm | measured
F1 fuse BP - F 10 A
Rc resistor F - K86 1 Ohm, within 5 %
K1.coil coil K86 - BN 88 Ohm
K1.con contact F - L by K1.coil, made 6 mOhm, pulls in 9 V, lets go 2 V
H1 lamp L - BN 5 W | from its base"""
RULE = """B1 battery BP - BN 12.6 V, 11 mOhm | measured
F1 fuse BP - F 10 A
S1 switch F - IN 10 mOhm; off: open
Rin input IN - BN 10 kOhm, within 5 %
out rule F - L watching IN - BN, closes above 6 V, opens below 1.5 V, made 20 mOhm, known
H1 lamp L - BN 5 W | from its base"""
PAIR = "S2 switch F - X 10 mOhm; off: open\nS3 switch X - BN 10 mOhm; on: open"
BAR = f"""{LAMP}
bar splice BN - G 0.001 mOhm
bar2 splice BN - G 0.001 mOhm
R9 resistor G - BP 100 kOhm, within 5 %"""
OFF_ON = "off off key off\non on key on"


@dataclass(frozen=True, kw_only=True)
class Flaw:
    """A drawing that is right, and the words in it that are written wrongly instead."""

    kind: FindingKind
    subject: str
    parts: str
    right: str
    wrong: str
    phases: str = OFF_ON
    places: str = ""
    codes: str = ""

    def found(self, *, is_wrong: bool) -> set[tuple[FindingKind, str]]:
        sections = {
            name: getattr(self, name).replace(self.right, self.wrong)
            if is_wrong
            else getattr(self, name)
            for name in ("parts", "phases", "places", "codes")
        }
        sheet = drawn(sections.pop("parts"), **sections)
        return {(each.kind, each.subject) for each in inspect(sheet, to_network(sheet))}


FLAWS = (
    Flaw(kind=FindingKind.NET_TOO_HIGH, subject="B1", parts=LAMP, right="12.6 V", wrong="48 V"),
    Flaw(
        kind=FindingKind.NO_FUSE,
        subject="W1",
        parts=LAMP,
        right="fuse BP - F 20 A",
        wrong="splice BP - F 0.1 mOhm",
    ),
    Flaw(kind=FindingKind.FUSE_TOO_LARGE, subject="W1", parts=LAMP, right="20 A", wrong="30 A"),
    Flaw(
        kind=FindingKind.BACK_FEED,
        subject="Wg",
        parts=TAIL,
        right="stop lamp D - GS",
        wrong="stop lamp D - G",
    ),
    Flaw(
        kind=FindingKind.NO_RETURN,
        subject="other",
        parts=TAIL,
        right="other lamp D - BN",
        wrong="other lamp D - X",
    ),
    Flaw(
        kind=FindingKind.FLOATING,
        subject="X",
        parts=f"{LAMP}\n{PAIR}",
        right=PAIR,
        wrong=PAIR.replace("; off:", "; off, on:").replace("; on:", "; off, on:"),
    ),
    Flaw(
        kind=FindingKind.WEAK_WHEN_HOT,
        subject="K1.con",
        parts=RELAY,
        right="1 Ohm, within",
        wrong="20 Ohm, within",
        phases="on on key on",
    ),
    Flaw(
        kind=FindingKind.WIRE_TOO_LONG,
        subject="W1",
        parts=LAMP,
        right="1.5 mm2, 1 m",
        wrong="1.5 mm2, 30 m",
    ),
    Flaw(
        kind=FindingKind.HEALTHY_CODE,
        subject="B1000",
        parts=LAMP,
        right="below 6 V",
        wrong="below 13 V",
        codes="B1000: lamp circuit\n  if M - BN below 6 V in on",
    ),
    Flaw(
        kind=FindingKind.CODE_NEVER_SETS,
        subject="B1000",
        parts=LAMP,
        right="below 6 V",
        wrong="above 15 V",
        codes="B1000: lamp circuit\n  if M - BN below 6 V in on",
    ),
    Flaw(
        kind=FindingKind.RULE_NEVER_MOVES,
        subject="out",
        parts=RULE,
        right="above 6 V",
        wrong="above 20 V",
    ),
    Flaw(
        kind=FindingKind.IDLE_PHASE,
        subject="on",
        parts=LAMP,
        right="off: open",
        wrong="dim: open",
        phases=f"{OFF_ON}\ndim on dimmed",
    ),
    Flaw(
        kind=FindingKind.MUTE_PLACE,
        subject="TP2",
        parts=BAR,
        right="TP2 V M - BN",
        wrong="TP2 V G - BN",
        places="TP1 V L - BN lamp\nTP2 V M - BN at the lamp",
    ),
    Flaw(
        kind=FindingKind.NO_TOLERANCE,
        subject="lamp",
        parts=LAMP,
        right=" | from its base",
        wrong="",
    ),
)


def test_every_kind_of_finding_has_its_fault_and_its_mend_here() -> None:
    assert [flaw.kind for flaw in FLAWS] == list(FindingKind)


@pytest.mark.parametrize("flaw", FLAWS, ids=lambda flaw: str(flaw.kind))
def test_a_finding_comes_with_its_fault_and_goes_with_its_mend(flaw: Flaw) -> None:
    assert (flaw.kind, flaw.subject) in flaw.found(is_wrong=True)
    assert (flaw.kind, flaw.subject) not in flaw.found(is_wrong=False)
