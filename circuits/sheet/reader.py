"""The text form of a circuit, as a technician types it.

A sheet has sections, each begun by its name in brackets. Every entry is one line; columns are
parted by spaces or tabs, as many as look good. `#` begins a remark, ` | ` the details of a line.
A decimal mark may be a point or a comma; a comma between values has a space behind it.

    [vehicle]                       # word: text
    key: fuel-pump
    title: Fuel pump with relay
    system: fuel
    volts: 12 V
    zero: BN
    body: CH
    shared: F15; E08                # the same things on other sheets of this vehicle
    goes on: C40a in rear-body      # where this sheet ends, and the circuit that begins there

    [connections]                   # name  post|stud|pin|splice|ground  words
    BP    post    battery + post
    K87   pin     relay 87

    [phases]                        # key  off|on|crank|run|bench  words | at 20 C, after 30 min
    prime   on    ignition on, prime (first 2 s)

    [parts]                         # name  kind  end - end  values | where they come from
    W2      wire     K87 - b     1.5 mm2, 1.6 m, joints 3 mOhm [measured]  | drawing 12
    base    current  BP - CH     off: 0.02 A; on, run: 6 A; otherwise: absent
    TPS     potentiometer  5V - SG - SIG  4.7 kOhm; off: position 12 %; on: position 80 %
    K3.coil coil     IG - K85    90 Ohm
    K3.con  contact  K30 - K87   by K3.coil, made 8 mOhm, pulls in 7.2 V, lets go 2.0 V

    [places]                        # key  unit  red - black  words | side; moves
    TP2   V   PP - PN       pump + to pump -   | side: back-probed; moves: volts, unplug PUMP
    TP7   A   through W3    clamp on the feed

    [faces]                         # connector  side  rows x columns  words | cavities by row
    X12   wire  2x2   relay's plug   | 1 K85, 2 -, 3 K30, 4 K87

    [codes]                         # code: words, then when it sets
    P0627: pump control circuit
      if E08 - EG below 2.5 V for 0.5 s in after
      if K3.coil below 50 mA in prime, crank, run

    [compounds]                     # key  words | its faults, as bad as they are at its worst
    old-pump   worn pump, wet plug    | drags:PUMP 4 A; resistance:C40 0.8 Ohm

    [hazards]
    fuel   keep lamps and sparks away from an open fuel system

    [notes]
    Free text.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Any

from pydantic import ValidationError

from circuits.sheet.checks import find_flaws
from circuits.sheet.entries import ENTRY_READERS, VEHICLE_WORDS, vehicle_value
from circuits.sheet.errors import Flaw, SheetErrors
from circuits.sheet.kinds import nearest
from circuits.sheet.lines import Line, Refused
from circuits.sheet.model import CodeEntry, Comparison, Condition, Sheet, Vehicle
from circuits.sheet.network import proven_network
from circuits.sheet.plain_words import built, explain

LARGEST_TEXT = 500_000
MOST_FLAWS = 200

_SECTION = re.compile(r"\[\s*([A-Za-z]+)\s*\]")
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\x85\u2028\u2029\ufeff\ufffd\ud800-\udfff]")
_CODE = re.compile(r"([A-Z0-9][A-Z0-9 .\-]*?)\s*:\s+(\S.*)")
_CONDITION = re.compile(
    r"if\s+(?P<test>.+?)(?:\s+for\s+(?P<seconds>.+?))?(?:\s+while\s+(?P<enabling>.+?))?"
    r"(?:\s+in\s+(?P<phases>.+))?"
)
_COMPARISON = re.compile(
    r"(?:(?P<red>\S+)\s+-\s+(?P<black>\S+)|(?P<subject>\S+))\s+(?P<way>above|below)\s+(?P<number>.+)"
)


def read_text(text: str) -> Sheet:
    """Return the sheet that a text describes; it makes a network that the engine takes.

    Raises
    ------
    SheetErrors
        Every mistake that was found, each with its line and how to mend it.
    """
    return _Reader(text).sheet()


@dataclass(slots=True, kw_only=True)
class _RawCode:
    """A code whose conditions wait until all names are known."""

    lines: list[Line]
    above: list[str]
    conditions: list[Line] = field(default_factory=list)
    not_testable: str = ""


class _Reader:
    """Reads one text; keeps the flaws, and on which lines each entry stands."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.flaws: list[Flaw] = []
        self.pending: list[str] = []
        self.entries: dict[str, list[Any]] = {section: [] for section in ENTRY_READERS}
        self.lines: dict[tuple[str, int], list[Line]] = {}
        self.vehicle: dict[str, Any] = {}
        self.vehicle_lines: list[Line] = []
        self.codes: list[_RawCode] = []
        self.notes: list[str] = []
        # Words of lines, and sections with lines, that could not be read.
        self.spoilt: set[str] = set()
        self.spoilt_sections: set[str] = set()

    def sheet(self) -> Sheet:
        self._read_lines()
        sheet = self._assemble()
        flaws = [self._placed(flaw) for flaw in find_flaws(sheet)]
        self.flaws.extend(flaw for flaw in flaws if not self._follows_from_another(flaw))
        if not self.flaws:
            try:
                proven_network(sheet)
            except SheetErrors as errors:
                self.flaws.extend(map(self._placed, errors.flaws))
        if self.flaws:
            raise SheetErrors(self._listed())
        return sheet

    # ------------------------------------------------------------------------------- lines

    def _read_lines(self) -> None:
        text = self.text.removeprefix("\ufeff")
        if len(text) > LARGEST_TEXT:
            raise SheetErrors(
                [
                    Flaw(
                        subject="text",
                        problem=f"{len(text)} characters are more than {LARGEST_TEXT}.",
                        mend="This is no circuit sheet, or it must be divided into several.",
                    )
                ]
            )
        section = ""
        for number, raw in enumerate(re.split(r"\r\n|\r|\n", text), start=1):
            line = Line.of(number, raw)
            if control := _CONTROL.search(raw):
                self.flaws.append(
                    Flaw(
                        subject=section,
                        problem=f"there is an unreadable character (code {ord(control[0])}).",
                        mend="Delete it, and save the file as UTF-8 text.",
                        line=number,
                        column=control.start() + 1,
                    )
                )
                continue
            header = _SECTION.fullmatch(line.body)
            if header and not line.details:
                section = self._begin(header[1].lower(), line)
            elif section == "notes":
                self.notes.append(raw.expandtabs().rstrip())
            elif line.is_remark:
                self.pending.append(line.remark)
            elif line.body or line.details:
                self._read_entry(section, line)

    def _begin(self, section: str, line: Line) -> str:
        known = [*ENTRY_READERS, "vehicle", "codes", "notes"]
        if section not in known:
            self._flaw(
                line,
                section,
                f"there is no section [{section}].",
                nearest(section, known) or f"Sections are: {', '.join(known)}.",
                at=section,
            )
            self.spoilt_sections.update(ENTRY_READERS)
            return "unknown"
        if line.remark:
            self.pending.append(line.remark)
        return section

    def _read_entry(self, section: str, line: Line) -> None:
        try:
            if not line.body:
                raise Refused("there is nothing in front of the bar.", "Take out the bar.", "|")
            if section == "vehicle":
                self._vehicle_line(line)
            elif section == "codes":
                self._code_line(line)
            elif section in ENTRY_READERS:
                self._entry(section, line)
            elif not section:
                raise Refused("this line stands before the first section.", "Begin with [vehicle].")
        except Refused as refused:
            self._flaw(line, _subject(section, line), refused.problem, refused.mend, at=refused.at)
            self.spoilt.update(re.split(r"[\s,;:]+", line.body))
            self.spoilt_sections.add(section)

    def _entry(self, section: str, line: Line) -> None:
        model, read = ENTRY_READERS[section]
        values = read(line)
        entry = built(model, **values, above=self._taken_remarks(), remark=line.remark)
        self.lines[section, len(self.entries[section])] = [line]
        self.entries[section].append(entry)

    def _taken_remarks(self) -> tuple[str, ...]:
        taken, self.pending = tuple(self.pending), []
        return taken

    def _flaw(self, line: Line, subject: str, problem: str, mend: str, *, at: str = "") -> None:
        self.flaws.append(
            Flaw(
                subject=subject,
                problem=problem,
                mend=mend,
                line=line.number,
                column=line.column(at),
            )
        )

    # ----------------------------------------------------------------------------- vehicle

    def _vehicle_line(self, line: Line) -> None:
        word, colon, text = (piece.strip() for piece in line.body.partition(":"))
        name = VEHICLE_WORDS.get(word.lower())
        if not colon or name is None:
            raise Refused(
                f"'{word}' is nothing that is said of a vehicle."
                if colon
                else "a line of [vehicle] is a word, a colon and a text.",
                nearest(word.lower(), list(VEHICLE_WORDS))
                or f"Known are: {', '.join(VEHICLE_WORDS)}.",
                word,
            )
        if name in self.vehicle:
            raise Refused(f"'{word}' is given twice.", "Keep one of the two.", word)
        if line.details:
            raise Refused("there are no details behind a bar here.", "Take out the bar.", "|")
        self.vehicle[name] = vehicle_value(name, text)
        self.vehicle_lines.append(line)
        remarks = self._taken_remarks()
        if not self.vehicle.get("above") and len(self.vehicle_lines) == 1:
            self.vehicle["remark"] = line.remark
        elif line.remark:
            remarks = (*remarks, line.remark)
        self.vehicle["above"] = (*self.vehicle.get("above", ()), *remarks)

    def _built_vehicle(self) -> Vehicle:
        missing = [word for word in ("key", "title", "system", "zero") if word not in self.vehicle]
        if missing:
            self.flaws.append(
                Flaw(
                    subject="vehicle",
                    problem=f"{' and '.join(missing)} of the circuit "
                    f"{'is' if len(missing) == 1 else 'are'} not given.",
                    mend=f"Add the line '{missing[0]}: ...' to [vehicle].",
                )
            )
        self.lines["vehicle", 0] = self.vehicle_lines
        if not missing:
            try:
                return built(Vehicle, **self.vehicle)
            except Refused as refused:
                line = next(
                    (line for line in self.vehicle_lines if refused.at and refused.at in line.text),
                    self.vehicle_lines[0],
                )
                self._flaw(line, "vehicle", refused.problem, refused.mend, at=refused.at)
        # Stands in so that the other sections are still checked; the sheet is refused anyway.
        return Vehicle.model_construct(
            key="unknown", title="unknown", system="unknown", zero="", body="", plus=""
        )

    # ------------------------------------------------------------------------------- codes

    def _code_line(self, line: Line) -> None:
        if line.body.startswith(("if ", "not testable")):
            if not self.codes:
                raise Refused("this condition belongs to no code.", "Write the code above it.")
            code = self.codes[-1]
            code.lines.append(line)
            code.above.extend(self._taken_remarks())
            code.above.extend([line.remark] if line.remark else [])
            if line.body.startswith("if "):
                code.conditions.append(line)
                return
            reason = line.body.removeprefix("not testable").strip()
            if not reason.startswith(":") or not reason[1:].strip() or code.not_testable:
                raise Refused(
                    "'not testable' takes one reason.", "Write 'not testable: why'.", "not"
                )
            code.not_testable = reason[1:].strip()
            return
        if not _CODE.fullmatch(line.body):
            raise Refused(
                "a code is written with a colon and its words.",
                "Write 'P0627: pump control circuit', and below it 'if TP1 below 12 V for 30 s'.",
                line.words[0],
            )
        self.codes.append(_RawCode(lines=[line], above=list(self._taken_remarks())))

    def _built_codes(self) -> list[CodeEntry]:
        codes: list[CodeEntry] = []
        for raw in self.codes:
            line = raw.lines[0]
            head = _CODE.fullmatch(line.body)
            assert head is not None
            try:
                code = built(
                    CodeEntry,
                    code=head[1],
                    words=head[2],
                    conditions=tuple(self._conditions(raw)),
                    not_testable=raw.not_testable,
                    source=line.details,
                    above=tuple(raw.above),
                    remark=line.remark,
                )
            except Refused as refused:
                self._flaw(line, head[1], refused.problem, refused.mend, at=refused.at)
                continue
            self.lines["codes", len(codes)] = raw.lines
            codes.append(code)
        return codes

    def _conditions(self, raw: _RawCode) -> Iterator[Condition]:
        for line in raw.conditions:
            try:
                yield self._condition(line)
            except Refused as refused:
                code = raw.lines[0].body.partition(":")[0]
                self._flaw(line, code, refused.problem, refused.mend, at=refused.at)
                # Keeps the code from being told that it has no condition at all.
                self.spoilt.add(code)

    def _condition(self, line: Line) -> Condition:
        if line.details:
            raise Refused(
                "a condition has no details.", "Write where the code's words come from.", "|"
            )
        taken = _CONDITION.fullmatch(line.body)
        if taken is None:
            raise Refused("this condition cannot be read.", _CONDITION_EXAMPLE)
        enabling = taken["enabling"] or ""
        return built(
            Condition,
            test=self._comparison(taken["test"]),
            seconds=taken["seconds"] or "",
            enabling=tuple(
                self._comparison(text) for text in re.split(r"\s+and\s+", enabling) if text
            ),
            phases=tuple(key.strip() for key in (taken["phases"] or "").split(",") if key.strip()),
        )

    def _comparison(self, text: str) -> Comparison:
        taken = _COMPARISON.fullmatch(text.strip())
        if taken is None:
            raise Refused(f"'{text}' compares nothing.", _CONDITION_EXAMPLE, text.split()[0])
        subject = taken["subject"] or ""
        places = {place.key for place in self.entries["places"]}
        parts = {part.name for part in self.entries["parts"]}
        is_part = subject in parts and subject not in places
        return built(
            Comparison,
            place="" if is_part else subject,
            part=subject if is_part else "",
            red=taken["red"] or "",
            black=taken["black"] or "",
            above=taken["way"] == "above",
            number=taken["number"].strip(),
        )

    # ---------------------------------------------------------------------------- assembly

    def _assemble(self) -> Sheet:
        notes = "\n".join(self.notes).strip("\n")
        codes = self._built_codes()
        vehicle = self._built_vehicle()
        values: dict[str, Any] = {
            "vehicle": vehicle,
            **{section: tuple(entries) for section, entries in self.entries.items()},
            "codes": tuple(codes),
            "notes": notes,
            "closing": tuple(self.pending),
        }
        try:
            return Sheet(**values)
        except ValidationError as error:
            problem, mend, _ = explain(error)
            self.flaws.append(Flaw(subject="notes", problem=problem, mend=mend))
            return Sheet.model_construct(**{**values, "notes": ""})

    def _placed(self, flaw: Flaw) -> Flaw:
        """Return the flaw with the line it stands on."""
        lines = self.lines.get(flaw.entry, []) if flaw.entry else []
        if not lines:
            return flaw
        line = next((line for line in lines if flaw.at and flaw.at in line.text), lines[0])
        problem = flaw.problem
        if flaw.twin and (twin := self.lines.get(flaw.twin)):
            problem = f"{problem.removesuffix('.')} (line {twin[0].number})."
        return replace(flaw, problem=problem, line=line.number, column=line.column(flaw.at))

    def _follows_from_another(self, flaw: Flaw) -> bool:
        """Whether a flaw only says that a line which could not be read is missing."""
        if flaw.at and flaw.at in self.spoilt:
            return True
        return not flaw.line and flaw.subject in self.spoilt_sections

    def _listed(self) -> list[Flaw]:
        flaws = sorted(self.flaws, key=lambda flaw: (flaw.line, flaw.column))
        if len(flaws) <= MOST_FLAWS:
            return flaws
        more = Flaw(
            subject="text",
            problem=f"{len(flaws) - MOST_FLAWS} further mistakes are not listed.",
            mend="Mend these first.",
            line=flaws[MOST_FLAWS].line,
        )
        return [*flaws[:MOST_FLAWS], more]


#: Sections whose lines begin with the name of what they are about.
_NAMED_SECTIONS = frozenset({"parts", "places", "connections", "phases", "codes", "compounds"})

_CONDITION_EXAMPLE = (
    "Write 'if TP2 below 10.5 V for 0.2 s while EPS above 30 A in run': a place, a part or two "
    "connections, above or below, a number with its unit."
)


def _subject(section: str, line: Line) -> str:
    if section in _NAMED_SECTIONS and line.words:
        return line.words[0].rstrip(":")
    return section
