"""Two people changed one sheet at the same time: put both changes together, and say what clashes.

Base is the sheet that both began with. What only one of them changed is taken; what both changed in
the same way is taken once; what both changed differently clashes and is left as mine, for a person
to decide. Entries are compared field by field, so that one may move a lead while the other mends
the words of the same place.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from circuits.sheet.differences import SECTIONS, named_entries
from circuits.sheet.model import Entry, Sheet, Vehicle
from circuits.sheet.writer import entry_line, vehicle_words

_NOTHING = "taken out"


@dataclass(frozen=True, slots=True, kw_only=True)
class Clash:
    """One entry that both changed differently, as each has it."""

    section: str
    name: str
    base: str
    theirs: str
    mine: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Merged:
    """Both people's changes on one sheet; where they clash it says what mine says."""

    sheet: Sheet
    clashes: tuple[Clash, ...]


def merge(*, base: Sheet, theirs: Sheet, mine: Sheet) -> Merged:
    """Return the sheet with both people's changes; it may have flaws that neither one had."""
    merging = _Merging()
    vehicle = merging.entry("vehicle", "vehicle", base.vehicle, theirs.vehicle, mine.vehicle)
    sections = {
        section: tuple(
            merging.section(
                section, *(named_entries(sheet, section) for sheet in (base, theirs, mine))
            )
        )
        for section in SECTIONS
    }
    texts = {
        name: merging.value(name, name, *(getattr(sheet, name) for sheet in (base, theirs, mine)))
        for name in ("notes", "closing")
    }
    sheet = mine.model_copy(update={"vehicle": vehicle, **sections, **texts})
    return Merged(sheet=sheet, clashes=tuple(merging.clashes))


def with_entry_of(other: Sheet, sheet: Sheet, section: str, name: str) -> Sheet:
    """Return a sheet with one entry, which either has, as the other has it, or without it."""
    theirs, mine = named_entries(other, section), named_entries(sheet, section)
    entries = {**mine, **({name: theirs[name]} if name in theirs else {})}
    if name not in theirs:
        del entries[name]
    order = _order([each for each in theirs if each in entries], [e for e in mine if e in entries])
    return sheet.model_copy(update={section: tuple(entries[each] for each in order)})


class _Merging:
    """Puts entries together and keeps what clashes."""

    def __init__(self) -> None:
        self.clashes: list[Clash] = []

    def section(
        self,
        section: str,
        base: Mapping[str, Entry],
        theirs: Mapping[str, Entry],
        mine: Mapping[str, Entry],
    ) -> Iterable[Entry]:
        for name in _order(list(theirs), list(mine)):
            entry = self.entry(section, name, base.get(name), theirs.get(name), mine.get(name))
            if entry is not None:
                yield entry

    def entry(
        self, section: str, name: str, base: Entry | None, theirs: Entry | None, mine: Entry | None
    ) -> Entry | None:
        if theirs in (base, mine):
            return mine
        if mine == base:
            return theirs
        if base is None or theirs is None or mine is None:
            self._clash(section, name, base, theirs, mine)
            return mine or theirs  # one of them took out what the other changed: it stays
        taken, clashes = {}, False
        for field in type(mine).model_fields:
            was, other, own = (getattr(entry, field) for entry in (base, theirs, mine))
            if own == was:
                taken[field] = other
            clashes = clashes or (own != was and other not in (was, own))
        if clashes:
            self._clash(section, name, base, theirs, mine)
        return mine.model_copy(update=taken)

    def value(self, section: str, name: str, base: Any, theirs: Any, mine: Any) -> Any:
        if theirs in (base, mine):
            return mine
        if mine == base:
            return theirs
        words = (
            "\n".join(text) if isinstance(text, tuple) else text for text in (base, theirs, mine)
        )
        self.clashes.append(
            Clash(
                section=section,
                name=name,
                **dict(zip(("base", "theirs", "mine"), words, strict=True)),
            )
        )
        return mine

    def _clash(
        self, section: str, name: str, base: Entry | None, theirs: Entry | None, mine: Entry | None
    ) -> None:
        self.clashes.append(
            Clash(
                section=section,
                name=name,
                base=_words(base) if base is not None else "not there yet",
                theirs=_words(theirs) if theirs is not None else _NOTHING,
                mine=_words(mine) if mine is not None else _NOTHING,
            )
        )


def _words(entry: Entry) -> str:
    if isinstance(entry, Vehicle):
        return "; ".join(f"{word}: {text}" for word, text in vehicle_words(entry).items() if text)
    return entry_line(entry)


def _order(theirs: list[str], mine: list[str]) -> list[str]:
    """Return all names: mine in my order, each of theirs that I lack behind the one it follows."""
    order = list(mine)
    for index, name in enumerate(theirs):
        if name not in order:
            before = theirs[index - 1] if index else None
            order.insert(order.index(before) + 1 if before is not None else 0, name)
    return order
