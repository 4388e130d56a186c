"""From a sheet to the cells of its drawing.

A winding and the contacts it moves share a frame, as on the relay itself; so do the drivers, inputs
and rules of one module. Where a frame would have to stand above itself (a relay that feeds its
own winding), its parts are drawn apart instead. Connections named as grounds are not led together:
each end there has its own ground sign.
"""

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from circuits.drawing.cells import Cell, Column, NetLabel, Plan
from circuits.drawing.flow import heights
from circuits.drawing.ranks import has_loop
from circuits.sheet import ConnectionKind, PartEntry, PartState, Setting, Sheet

#: A named ground with no more ends than this is drawn as the wire it is.
_FEW_ENDS = 3
_IN_MODULES = frozenset({"driver", "duty", "input", "rule"})
_ONE_LINE = frozenset({"wire", "connector", "ground"})
#: How units are written in a drawing.
_WRITTEN = (("mm2", "mm²"), ("Ohm", "Ω"), ("ohm", "Ω"))
_TAGS_SHOWN = 3
_TERMINAL_NUMBER = re.compile(r",\s*(\d{1,3}[a-z]?|[A-Z]{1,2}\d{0,2})$")


def plan_of(sheet: Sheet) -> Plan:
    """Return the cells of a sheet's drawing."""
    return _Planner(sheet).plan()


def boxes_of(sheet: Sheet) -> dict[str, tuple[str, ...]]:
    """Return the parts in each box of the drawing that has a title: a relay, a module."""
    boxes: dict[str, tuple[str, ...]] = {}
    for cell in plan_of(sheet).cells:
        if cell.frame:
            boxes[cell.frame] = (*boxes.get(cell.frame, ()), *cell.parts)
    return boxes


@dataclass(frozen=True, slots=True, kw_only=True)
class _Group:
    """Parts that want to be drawn in one frame."""

    title: str
    parts: tuple[PartEntry, ...]
    shares: bool


class _Planner:
    """Works out one plan; the names of grounds and labels are looked up once."""

    def __init__(self, sheet: Sheet) -> None:
        self.sheet = sheet
        self.height = heights(sheet)
        self.kinds = {each.node: each.kind for each in sheet.connections}
        self.words = {each.node: each.label for each in sheet.connections}
        self.grounds = self._grounds()
        self.labelled: set[str] = set()
        self.tags = _place_tags(sheet)
        self.clamped = {place.through: place.key for place in sheet.places if place.through}

    def plan(self) -> Plan:
        groups = [*self._relays()]
        taken = {part.name for group in groups for part in group.parts}
        groups.extend(self._modules(taken))
        while True:
            plan = self._with_groups(groups)
            loop = has_loop(plan)
            if not loop:
                return plan
            # A frame in the loop is given up; parts alone never make one.
            looped = {name for number in loop for name in plan.cells[number].parts}
            broken = next(
                group
                for group in groups
                if looped & {part.name for part in group.parts} and len(group.parts) > 1
            )
            groups.remove(broken)

    # ---------------------------------------------------------------------------- grounds

    def _grounds(self) -> frozenset[str]:
        ends = Counter(node for part in self.sheet.parts for node in part.ends)
        body, zero = self.sheet.vehicle.body, self.sheet.vehicle.zero
        named = {node for node, kind in self.kinds.items() if kind is ConnectionKind.GROUND}
        many = {node for node in named if ends[node] > _FEW_ENDS}
        busy_zero = {zero} if ends[zero] > 2 * _FEW_ENDS else set()
        return frozenset((many | busy_zero | {body}) & set(ends))

    # ----------------------------------------------------------------------------- frames

    def _relays(self) -> list[_Group]:
        moved: dict[str, list[PartEntry]] = {}
        for part in self.sheet.parts:
            if part.kind == "contact" and (winding := _winding_of(part)):
                moved.setdefault(winding, []).append(part)
        return [
            _Group(title=_common(part.name, contacts), parts=(part, *contacts), shares=False)
            for part in self.sheet.parts
            if (contacts := moved.get(part.name))
        ]

    def _modules(self, taken: set[str]) -> list[_Group]:
        found: dict[tuple[str, str], list[PartEntry]] = {}
        for part in self.sheet.parts:
            upper, low = self._ends(part)
            if part.kind in _IN_MODULES and part.name not in taken:
                title = self._module_name(upper) if low == self.sheet.vehicle.body else ""
                found.setdefault((low, title), []).append(part)
        groups = []
        names_of_grounds: dict[str, str] = {}
        for (low, title), parts in found.items():
            parts.extend(
                part for part in self.sheet.parts if part.kind == "power" and part.second == low
            )
            uppers = [self._ends(part)[0] for part in parts]
            # Neighbours with one upper end share its pin.
            parts.sort(key=lambda part: uppers.index(self._ends(part)[0]))
            title = title or self._common_name(uppers)
            names_of_grounds[low] = title
            groups.append(_Group(title=title, parts=tuple(parts), shares=True))
        groups.extend(
            _Group(
                title=self._module_name(part.first) or names_of_grounds.get(part.second, ""),
                parts=(part,),
                shares=True,
            )
            for part in self.sheet.parts
            if self._is_regulator(part)
        )
        return groups

    def _common_name(self, nodes: Sequence[str]) -> str:
        names = Counter(filter(None, map(self._module_name, nodes)))
        return names.most_common(1)[0][0] if names else ""

    def _is_regulator(self, part: PartEntry) -> bool:
        """Return whether a source is one that a module makes for its sensors."""
        vehicle = self.sheet.vehicle
        if part.kind not in ("supply", "generator") or part.second in (vehicle.zero, vehicle.body):
            return False
        return "module" in self.words.get(part.first, "")

    def _module_name(self, node: str) -> str:
        """Return `engine module E42` of `engine module E42, relay driver`; a relay is no module."""
        words, comma, _ = self.words.get(node, "").partition(",")
        return words.strip() if comma and not words.startswith("relay") else ""

    # ------------------------------------------------------------------------------ cells

    def _with_groups(self, groups: Sequence[_Group]) -> Plan:
        grouped = {part.name: group for group in groups for part in group.parts}
        self.labelled = set()
        done: set[str] = set()
        cells: list[Cell] = []
        for part in self.sheet.parts:
            group = grouped.get(part.name)
            if part.name in done:
                continue
            if group is None:
                cells.append(Cell(key=part.name, columns=(self._column(part, ""),)))
                continue
            done.update(member.name for member in group.parts)
            cells.append(
                Cell(
                    key=part.name,
                    columns=tuple(self._column(member, group.title) for member in group.parts),
                    frame=group.title,
                    shares=group.shares,
                )
            )
        return Plan(cells=tuple(self._labelled(cells)))

    def _ends(self, part: PartEntry) -> tuple[str, str]:
        """Return a part's upper and lower end; an end at ground is the lower one."""
        first, second = part.first, part.second
        if (first in self.grounds) != (second in self.grounds):
            return (second, first) if first in self.grounds else (first, second)
        return (first, second) if self.height[first] > self.height[second] else (second, first)

    def _column(self, part: PartEntry, title: str) -> Column:
        top, bottom = self._ends(part)
        name = part.name
        if title and name.startswith(f"{title}."):
            name = name.removeprefix(f"{title}.")
        value = _value_words(part)
        # The line from a winding to its contacts passes between two lines of words.
        is_short = part.kind in _ONE_LINE or (part.kind == "coil" and bool(title))
        words = (f"{name} {value}",) if is_short else (name, value)
        return Column(
            part=part.name,
            kind="regulator" if self._is_regulator(part) else part.kind,
            words=tuple(line for line in (words[0].strip(), *words[1:]) if line),
            top=top,
            bottom=bottom,
            flipped=part.first != top,
            third=part.third,
            third_is_top=bool(part.third) and self.height[part.third] > self.height[top],
            head=top in self.grounds,
            foot=bottom in self.grounds,
            has_amps=part.kind not in ("wire", "connector", "splice", "ground", "input")
            or part.name in self.clamped,
            pin_words=(self._pin_word(top), self._pin_word(bottom)) if title else ("", ""),
        )

    def _pin_word(self, node: str) -> str:
        found = _TERMINAL_NUMBER.search(self.words.get(node, ""))
        return found[1] if found else ""

    # ----------------------------------------------------------------------------- labels

    def _label(self, net: str) -> NetLabel:
        self.labelled.add(net)
        tags = self.tags.get(net, "")
        return NetLabel(net=net, tags=tags, has_figure=bool(tags))

    def _labelled(self, cells: Iterable[Cell]) -> list[Cell]:
        """Write each connection's name once, and add the terminals from which rails hang."""
        cells = list(cells)
        feeding, fed = Counter[str](), Counter[str]()
        for cell in cells:
            for pin in cell.pins:
                (fed if pin.is_top else feeding)[pin.net] += 1
        done = [
            replace(
                cell,
                columns=tuple(self._with_labels(column, feeding, fed) for column in cell.columns),
            )
            for cell in cells
        ]
        rails = [net for net in fed if net not in feeding and fed[net] > 1]
        sinks = [net for net in feeding if net not in fed and feeding[net] > 1]
        done[:0] = [self._terminal(net, leads_down=True) for net in rails]
        done.extend(self._terminal(net, leads_down=False) for net in sinks)
        return done

    def _with_labels(self, column: Column, feeding: Counter[str], fed: Counter[str]) -> Column:
        top = bottom = None
        if column.head:
            top = NetLabel(net=column.top)
        elif column.top not in feeding and fed[column.top] == 1:
            top = self._label(column.top)
        is_sink = column.bottom not in fed and feeding[column.bottom] > 1
        if column.foot:
            bottom = NetLabel(net=column.bottom)
        elif not is_sink and column.bottom not in self.labelled:
            bottom = self._label(column.bottom)
        third = None
        if column.third and column.third not in self.labelled:
            third = self._label(column.third)
        return replace(column, top_label=top, bottom_label=bottom, third_label=third)

    def _terminal(self, net: str, *, leads_down: bool) -> Cell:
        return Cell(
            key=f"terminal {net}",
            terminal=self._label(net),
            terminal_words=self.words.get(net, ""),
            leads_down=leads_down,
        )


def _winding_of(part: PartEntry) -> str:
    values = (value for setting in part.settings for value in setting.values)
    return next((value.text for value in values if value.word == "by"), "")


def _common(name: str, others: Sequence[PartEntry]) -> str:
    stem = name.rpartition(".")[0]
    return stem if stem and all(part.name.startswith(f"{stem}.") for part in others) else name


def _value_words(part: PartEntry) -> str:
    """Return a part's main value as typed; of values that change by phase, none."""
    found = next((setting for setting in part.settings if _is_common(setting)), None)
    if found is None:
        return ""
    text = next((value.text for value in found.values if not value.word), "")
    for typed, written in _WRITTEN:
        text = text.replace(typed, written)
    return text


def _is_common(setting: Setting) -> bool:
    return not setting.phases and setting.state is None


def rests_open(part: PartEntry) -> bool:
    """Return whether a switch is drawn open when no phase is asked for."""
    return any(setting.state is PartState.OPEN for setting in part.settings)


def _place_tags(sheet: Sheet) -> dict[str, str]:
    """Return who measures at each connection: `TP1 TP4 red, TP2 black`, shortened where many do."""
    found: dict[str, dict[str, list[str]]] = {}
    for place in sheet.places:
        for node, lead in ((place.red, "red"), (place.black, "black")):
            if node:
                found.setdefault(node, {}).setdefault(lead, []).append(place.key)
    return {
        node: ", ".join(f"{' '.join(_shortened(keys))} {lead}" for lead, keys in leads.items())
        for node, leads in found.items()
    }


def _shortened(keys: Sequence[str]) -> Sequence[str]:
    return keys if len(keys) <= _TAGS_SHOWN else (*keys[: _TAGS_SHOWN - 1], "…")
