"""What differs between two sheets of one circuit: entry by entry, value by value, in words.

Entries are the same if they have the same name, whatever line they stand on. Of a part, each value
is followed through the phases, so that the same thing written another way is no difference.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from circuits.sheet.kinds import KINDS, ValueRefused, field_of
from circuits.sheet.model import (
    OTHERWISE,
    Entry,
    PartEntry,
    Sheet,
    Value,
    Vehicle,
)
from circuits.sheet.writer import entry_line, value_words, vehicle_words

#: The lists of a sheet, in its order, with the field that names an entry.
SECTIONS: Final[Mapping[str, str]] = {
    "connections": "node",
    "phases": "key",
    "parts": "name",
    "places": "key",
    "faces": "name",
    "codes": "code",
    "compounds": "key",
    "hazards": "kind",
}
#: What a value in a phase is listed under when the part has a state there instead.
_STATE = "state"
_WRITTEN_ANOTHER_WAY = "written another way; it means the same"


class Way(StrEnum):
    """How something differs."""

    ADDED = "added"
    TAKEN_OUT = "taken out"
    CHANGED = "changed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """One thing that differs; `old` and `new` are as written on the sheets.

    `section` and `name` say which entry it is: `parts` and `W2`. `about` says what of it, `phases`
    in which phases it differs where it does not in all.
    """

    section: str
    name: str
    way: Way
    about: str = ""
    phases: tuple[str, ...] = ()
    old: str = ""
    new: str = ""

    @property
    def words(self) -> str:
        """The difference as a sentence that begins with the entry's name."""
        about = f"{self.about} " if self.about else ""
        where = f" in {', '.join(self.phases)}" if self.phases else ""
        if self.way is Way.ADDED:
            return f"{self.name}: {about}added{where}: {self.new}"
        if self.way is Way.TAKEN_OUT:
            return f"{self.name}: {about}taken out{where}: {self.old}"
        if not self.old and not self.new:
            return f"{self.name}: {about}".rstrip()
        return f"{self.name}: {about}{self.old or 'nothing'} became {self.new or 'nothing'}{where}"


def differences(old: Sheet, new: Sheet) -> tuple[Difference, ...]:
    """Return what differs from the old sheet to the new one, in the order of the sheet."""
    return tuple(_differences(old, new))


def named_entries(sheet: Sheet, section: str) -> dict[str, Entry]:
    """Return the entries of a section by name; a second hazard of one kind is `fuel 2`."""
    entries: dict[str, Entry] = {}
    for entry in getattr(sheet, section):
        name = plain = str(getattr(entry, SECTIONS[section]))
        number = 1
        while name in entries:
            number += 1
            name = f"{plain} {number}"
        entries[name] = entry
    return entries


def _differences(old: Sheet, new: Sheet) -> Iterator[Difference]:
    yield from _of_vehicle(old.vehicle, new.vehicle)
    common = [key for key in new.phase_keys if key in old.phase_keys]
    for section in SECTIONS:
        before, after = named_entries(old, section), named_entries(new, section)
        for name, entry in before.items():
            if name not in after:
                yield Difference(
                    section=section, name=name, way=Way.TAKEN_OUT, old=_line(section, entry)
                )
        for name, entry in after.items():
            if name not in before:
                yield Difference(
                    section=section, name=name, way=Way.ADDED, new=_line(section, entry)
                )
            elif entry != before[name]:
                yield from _of_entry(section, name, before[name], entry, common)
        yield from _of_order(section, list(before), list(after))
    for about, was, now in (("notes", old.notes, new.notes), ("closing", old.closing, new.closing)):
        if was != now:
            yield Difference(
                section=about,
                name="closing remarks" if about == "closing" else about,
                way=Way.CHANGED,
                old=was if isinstance(was, str) else "; ".join(was),
                new=now if isinstance(now, str) else "; ".join(now),
            )


def _line(section: str, entry: Entry) -> str:
    """Return an entry as written, without its name."""
    return entry_line(entry).removeprefix(str(getattr(entry, SECTIONS[section]))).lstrip(" :")


def _of_vehicle(old: Vehicle, new: Vehicle) -> Iterator[Difference]:
    before, after = vehicle_words(old), vehicle_words(new)
    for word in after:
        if before[word] != after[word]:
            yield _changed("vehicle", "vehicle", word, before[word], after[word])
    yield from _of_remarks("vehicle", "vehicle", old, new)


def _of_entry(
    section: str, name: str, old: Entry, new: Entry, phases: Sequence[str]
) -> Iterator[Difference]:
    found: list[Difference] = []
    if isinstance(old, PartEntry) and isinstance(new, PartEntry):
        found.extend(_of_part(old, new, phases))
    elif (was := _line(section, old)) != (now := _line(section, new)):
        found.append(_changed(section, name, "", was, now))
    found.extend(_of_remarks(section, name, old, new))
    if not found:
        found.append(_changed(section, name, _WRITTEN_ANOTHER_WAY, "", ""))
    yield from found


def _of_remarks(section: str, name: str, old: Entry, new: Entry) -> Iterator[Difference]:
    was, now = ("; ".join(filter(None, (*entry.above, entry.remark))) for entry in (old, new))
    if was != now:
        yield _changed(section, name, "remark", was, now)


def _of_order(section: str, old: Sequence[str], new: Sequence[str]) -> Iterator[Difference]:
    was = [name for name in old if name in new]
    now = [name for name in new if name in old]
    if was != now:
        yield _changed(section, section, "order", ", ".join(was), ", ".join(now))


def _changed(section: str, name: str, about: str, old: str, new: str) -> Difference:
    return Difference(section=section, name=name, way=Way.CHANGED, about=about, old=old, new=new)


# ------------------------------------------------------------------------------------ parts


def _of_part(old: PartEntry, new: PartEntry, phases: Sequence[str]) -> Iterator[Difference]:
    if old.kind != new.kind:
        yield _changed("parts", new.name, "kind", old.kind, new.kind)
    was, now = (" - ".join(part.ends) for part in (old, new))
    if was != now:
        yield _changed("parts", new.name, "ends", was, now)
    yield from _of_values(old, new, phases)
    if old.source != new.source:
        yield _changed(
            "parts", new.name, "source", old.source or "assumed", new.source or "assumed"
        )


def _of_values(old: PartEntry, new: PartEntry, phases: Sequence[str]) -> Iterator[Difference]:
    """Yield each value that differs, once for all phases in which it differs in the same way."""
    before = {phase: _values_in(old, phase) for phase in phases}
    after = {phase: _values_in(new, phase) for phase in phases}
    alike: dict[tuple[str, str, str], list[str]] = {}
    for phase in phases:
        pair = before[phase], after[phase]
        if old.kind != new.kind or (_STATE in pair[0]) != (_STATE in pair[1]):
            pair = _as_one(pair[0]), _as_one(pair[1])
        for name in {**pair[0], **pair[1]}:
            was, now = (values.get(name, "") for values in pair)
            if was != now:
                alike.setdefault((name, was, now), []).append(phase)
    for (_, was, now), where in alike.items():
        yield Difference(
            section="parts",
            name=new.name,
            way=Way.CHANGED if was and now else Way.ADDED if now else Way.TAKEN_OUT,
            phases=() if len(where) == len(phases) else tuple(where),
            old=was,
            new=now,
        )


def _values_in(part: PartEntry, phase: str) -> dict[str, str]:
    """Return what a part is in a phase: each value as written, or its state."""
    common = [setting for setting in part.settings if not setting.phases]
    own = [setting for setting in part.settings if phase in setting.phases]
    own = own or [setting for setting in part.settings if OTHERWISE in setting.phases]
    if own and own[0].state is not None:
        return {_STATE: own[0].state.value}
    return {
        _value_name(part.kind, value): value_words(value)
        for setting in (*common, *own)
        for value in setting.values
    }


def _as_one(values: dict[str, str]) -> dict[str, str]:
    """Return all values as one, where they have no counterparts to be set against."""
    return {"": ", ".join(values.values())}


def _value_name(kind: str, value: Value) -> str:
    try:
        return field_of(KINDS[kind], value).name
    except (KeyError, ValueRefused):
        return value.word
