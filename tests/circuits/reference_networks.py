"""The reference circuits as networks: eleven invented vehicles with their solved readings.

`tests/data/reference_circuits.json` holds, for each circuit, its parts in every phase, its faults
as operations on parts, and what every place reads, healthy and under each fault. The readings
come from a nodal solver apart from ours and were confirmed with ngspice; nothing in them comes
from our engine. Rows that are no meter reading on the circuit (a computed temperature, light in
percent, the average of a switched line, ohms of a part on the bench) are left out here.
"""

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

from circuits.engine import (
    AS_IT_STANDS,
    Absent,
    Battery,
    Contact,
    CurrentLoad,
    Diode,
    FanMotor,
    Fuse,
    Generator,
    KeyState,
    Lamp,
    Motor,
    Network,
    Part,
    Phase,
    Place,
    PowerLoad,
    Resistor,
    Rig,
    Supply,
    Switch,
    Wire,
)

DATA = Path(__file__).parent.parent / "data" / "reference_circuits.json"

Raw = dict[str, Any]
Change = Callable[[Network], Network]

# Places of the tables that are another place with something unplugged or loaded:
# circuit, label -> the volts place's nodes, what is unplugged, watts of the test lamp.
RIGGED_PLACES: Mapping[tuple[str, str], tuple[str, str, tuple[str, ...], float | None]] = {
    ("C05", "TP8"): ("PP", "PN", ("PUMP",), None),
    ("C05", "TP9"): ("PP", "PN", ("PUMP",), 21.0),
    ("C07", "TP10"): ("LOWL", "GL", ("lampLOWL",), None),
    ("C09", "TP8"): ("RPs", "RPg", ("AC_top", "AC_bot", "short ACs - ACg"), None),
    ("C10", "TP6"): ("SA", "SB", ("NTC",), None),
}
# The current out of the 5 V pin, which the table gives in milliamps.
CLAMPED_PLACES: Mapping[tuple[str, str], str] = {("C09", "TP9"): "W1"}


@dataclass(frozen=True, slots=True, kw_only=True)
class ReferenceRow:
    """One row of a table: a place with its rig, and the unit of the figures as base units."""

    label: str
    place: Place
    per_base_unit: float
    unplugs: tuple[str, ...] = ()
    lamp_watts: float | None = None

    @property
    def key(self) -> str:
        return self.place.key

    def rig(self, network: Network) -> Rig:
        """Return the rig; a short inside an unplugged part leaves with the part."""
        if not self.unplugs:
            return AS_IT_STANDS
        present = {part.name for part in network.parts}
        return Rig(unplugged=frozenset(self.unplugs) & present, lamp_watts=self.lamp_watts)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReferenceCircuit:
    """A circuit of the reference set.

    `faults` maps a letter to what the fault does to the network; `predicted` maps "healthy" or a
    letter, then a phase, then a row's key to volts or amps. `rivals` are the resistive parts that
    fit every reading of a fault as well, where that search was made.
    """

    key: str
    title: str
    network: Network
    rows: tuple[ReferenceRow, ...]
    faults: Mapping[str, Change]
    fault_words: Mapping[str, str]
    predicted: Mapping[str, Mapping[str, Mapping[str, float]]]
    rivals: Mapping[str, tuple[str, ...]]

    @property
    def places(self) -> tuple[Place, ...]:
        """Return the places that are read on the circuit as it stands."""
        return tuple(row.place for row in self.rows if not row.unplugs)

    def row(self, key: str) -> ReferenceRow:
        return next(row for row in self.rows if row.key == key)

    def faulty(self, letter: str) -> Network:
        """Return the network under a fault; "healthy" is the network itself."""
        return self.network if letter == "healthy" else self.faults[letter](self.network)


def reference_keys() -> tuple[str, ...]:
    return tuple(raw["id"] for raw in _raw_circuits())


@cache
def reference_circuit(key: str) -> ReferenceCircuit:
    """Return one circuit of the reference set by its key, C01 to C15."""
    raw = next(raw for raw in _raw_circuits() if raw["id"] == key)
    rows = _rows(raw)
    return ReferenceCircuit(
        key=key,
        title=raw["title"],
        network=_network(raw),
        rows=rows,
        faults={
            fault["letter"]: _all_of([_change(*operation) for operation in fault["operations"]])
            for fault in raw["faults"]
        },
        fault_words={fault["letter"]: fault["text"] for fault in raw["faults"]},
        predicted=_predicted(raw, rows),
        rivals={letter: tuple(parts) for letter, parts in raw["rivals"].items()},
    )


@cache
def _raw_circuits() -> tuple[Raw, ...]:
    return tuple(json.loads(DATA.read_text(encoding="utf-8")))


# ---------------------------------------------------------------------------------- network


def _network(raw: Raw) -> Network:
    by_name: dict[str, dict[str, Raw]] = {}
    for phase, parts in raw["parts_by_phase"].items():
        for part in parts:
            by_name.setdefault(part["name"], {})[phase] = part
    variants = {
        name: {phase: _part(raw, by_phase, phase) for phase in raw["phases"]}
        for name, by_phase in by_name.items()
    }
    drawn = {name: _as_drawn(list(phases.values())) for name, phases in variants.items()}
    return Network(
        parts=tuple(drawn.values()),
        phases=tuple(
            Phase(
                name=phase,
                key_state=_key_state(phase),
                changes={
                    name: phases[phase]
                    for name, phases in variants.items()
                    if phases[phase] != drawn[name]
                },
            )
            for phase in raw["phases"]
        ),
        zero=raw["zero"],
        body="CH",
    )


def _as_drawn(phases: list[Part]) -> Part:
    return next((part for part in phases if not isinstance(part, Absent)), phases[0])


def _key_state(phase: str) -> KeyState:
    words = {"key off": "off", "ignition on": "on", "cranking": "crank", "running": "run"}
    return next(KeyState(state) for word, state in words.items() if phase.startswith(word))


def _part(raw: Raw, by_phase: dict[str, Raw], phase: str) -> Part:
    any_phase = next(iter(by_phase.values()))
    ends: Raw = {"name": any_phase["name"], "first": any_phase["a"], "second": any_phase["b"]}
    if phase not in by_phase:
        return Absent(**ends)
    values = by_phase[phase]
    if values["kind"] == "R":
        return _resistive(raw, by_phase, values, ends)
    kind, names = _KINDS[values["kind"]]
    return kind(**ends, **{ours: values[theirs] for theirs, ours in names.items()})


_KINDS: dict[str, tuple[type[Part], dict[str, str]]] = {
    "bat": (
        Battery,
        {"E": "open_circuit_volts", "Rd": "internal_ohms", "Rc": "charging_ohms"},
    ),
    "src": (Supply, {"V": "volts", "Ri": "internal_ohms"}),
    "gen": (Generator, {"V": "volts", "Ri": "internal_ohms", "Imax": "max_amps"}),
    "cc": (CurrentLoad, {"I": "amps"}),
    "motor": (Motor, {"A": "base_amps", "G": "amps_per_volt", "Rs": "stalled_ohms"}),
    "lamp": (Lamp, {"W": "rated_watts", "V0": "rated_volts"}),
    "diode": (Diode, {"Vf": "forward_volts", "r": "on_ohms"}),
    "cp": (PowerLoad, {"P": "watts", "Imax": "max_amps"}),
    "fan": (
        FanMotor,
        {"Ra": "winding_ohms", "k": "back_volts", "c": "rated_amps", "d": "drive_fraction"},
    ),
}


def _resistive(raw: Raw, by_phase: dict[str, Raw], values: Raw, ends: Raw) -> Part:
    if "rcon" in values:
        return _contact(raw, values, ends)
    if "mm2" in values:
        return Wire(
            **ends,
            wire_mm2=values["mm2"],
            metres=values["m"],
            joint_ohms=values["joint_mohm"] / 1000,
        )
    if "fuse" in values:
        return Fuse(**ends, rated_amps=values["fuse"], cold_ohms=values["ohm"])
    closed = [phase["ohm"] for phase in by_phase.values() if phase["ohm"] is not None]
    if not closed:
        return Absent(**ends)
    if len(closed) < len(by_phase):
        return Switch(**ends, closed_ohms=closed[0], closed=values["ohm"] is not None)
    return Resistor(**ends, ohms=values["ohm"])


def _contact(raw: Raw, values: Raw, ends: Raw) -> Contact:
    relay_name = values["name"].removesuffix(".con")
    relay = next(relay for relay in raw["relays"] if relay["name"] == relay_name)
    return Contact(
        **ends,
        coil=f"{relay_name}.coil",
        coil_ohms=relay["rnom"],
        pull_in_volts=relay["pick"],
        drop_out_volts=relay["drop"],
        made_ohms=values["rcon"],
        normally_closed=relay["nc"],
        **_pull_winding(raw, relay_name),
    )


def _pull_winding(raw: Raw, relay_name: str) -> Raw:
    """Return the second winding of the starter solenoid, which sits on the same core."""
    if (raw["id"], relay_name) != ("C01", "SOL"):
        return {}
    pull = next(part for part in raw["parts_by_phase"]["cranking"] if part["name"] == "PULL")
    return {"pull_winding": "PULL", "pull_winding_ohms": pull["ohm"]}


# ------------------------------------------------------------------------------------- rows


def _rows(raw: Raw) -> tuple[ReferenceRow, ...]:
    rows = (_row(raw["id"], point) for point in raw["test_points"])
    return tuple(row for row in rows if row is not None)


def _row(circuit: str, point: Raw) -> ReferenceRow | None:
    label = point["label"]
    key = label.split()[0]
    if point["kind"] == "A":
        place = Place(key=key, through=point["part"], reversed_clamp=point["sign"] < 0)
        return ReferenceRow(label=label, place=place, per_base_unit=1.0)
    if point["kind"] in ("V", "mV"):
        place = Place(key=key, red=point["plus"], black=point["minus"])
        return ReferenceRow(
            label=label, place=place, per_base_unit=1000.0 if point["kind"] == "mV" else 1.0
        )
    if (circuit, key) in CLAMPED_PLACES:
        place = Place(key=key, through=CLAMPED_PLACES[circuit, key])
        return ReferenceRow(label=label, place=place, per_base_unit=1000.0)
    if (circuit, key) in RIGGED_PLACES:
        red, black, unplugs, lamp_watts = RIGGED_PLACES[circuit, key]
        return ReferenceRow(
            label=label,
            place=Place(key=key, red=red, black=black),
            per_base_unit=1.0,
            unplugs=unplugs,
            lamp_watts=lamp_watts,
        )
    return None


def _predicted(raw: Raw, rows: tuple[ReferenceRow, ...]) -> dict[str, dict[str, dict[str, float]]]:
    return {
        column: {
            phase: {row.key: by_label[row.label] / row.per_base_unit for row in rows}
            for phase, by_label in phases.items()
        }
        for column, phases in raw["predicted"].items()
    }


# ----------------------------------------------------------------------------------- faults


def _all_of(changes: list[Change]) -> Change:
    def changed(network: Network) -> Network:
        for change in changes:
            network = change(network)
        return network

    return changed


def _change(operation: str, *arguments: Any) -> Change:
    return _OPERATIONS[operation](*arguments)


def _in_every_phase(network: Network, name: str, change: Callable[[Part], Part]) -> Network:
    """Change a part as drawn and as each phase has it."""
    return replace(
        network,
        parts=tuple(change(part) if part.name == name else part for part in network.parts),
        phases=tuple(
            replace(
                phase,
                changes={
                    part.name: change(part) if part.name == name else part
                    for part in phase.changes.values()
                },
            )
            for phase in network.phases
        ),
    )


_OHMS_FIELD: dict[type[Part], str] = {
    Resistor: "ohms",
    Wire: "joint_ohms",
    Fuse: "cold_ohms",
    Contact: "made_ohms",
    Switch: "closed_ohms",
}


def _with_added_ohms(part: Part, ohms: float) -> Part:
    if isinstance(part, Absent):
        return part
    field = _OHMS_FIELD[type(part)]
    changed: Raw = {field: getattr(part, field) + ohms}
    return replace(part, **changed)


def _add(name: str, ohms: float) -> Change:
    return lambda network: _in_every_phase(network, name, lambda part: _with_added_ohms(part, ohms))


def _ends(part: Part) -> Raw:
    return {"name": part.name, "first": part.first, "second": part.second}


def _replace_with(name: str, make: Callable[[Part], Part]) -> Change:
    return lambda network: _in_every_phase(network, name, make)


def _open(name: str) -> Change:
    return _replace_with(name, lambda part: Absent(**_ends(part)))


def _close(name: str, ohms: float) -> Change:
    return _replace_with(name, lambda part: Resistor(**_ends(part), ohms=ohms))


def _stuck(relay: str, made: bool) -> Change:
    def stuck(part: Part) -> Part:
        assert isinstance(part, Contact)
        return Resistor(**_ends(part), ohms=part.made_ohms) if made else Absent(**_ends(part))

    return _replace_with(f"{relay}.con", stuck)


_VALUE_FIELD = {
    "E": "open_circuit_volts",
    "Rd": "internal_ohms",
    "A": "base_amps",
    "Imax": "max_amps",
    "I": "amps",
    "c": "rated_amps",
    "V": "volts",
    "P": "watts",
}


def _set(name: str, value_name: str, value: float) -> Change:
    if value_name == "ohm":
        return _close(name, value)
    return _map_value(name, value_name, lambda _: value)


def _map_value(name: str, value_name: str, change: Callable[[float], float]) -> Change:
    field = _VALUE_FIELD[value_name]

    def changed(part: Part) -> Part:
        if isinstance(part, Absent):
            return part
        changed_value: Raw = {field: change(getattr(part, field))}
        return replace(part, **changed_value)

    return _replace_with(name, changed)


def _multiply(name: str, factor: float) -> Change:
    def multiplied(part: Part) -> Part:
        assert isinstance(part, Resistor)
        return replace(part, ohms=part.ohms * factor)

    return _replace_with(name, multiplied)


def _full_drive(fraction: float) -> Change:
    def driven(part: Part) -> Part:
        assert isinstance(part, FanMotor)
        return replace(part, drive_fraction=fraction)

    return _replace_with("FAN", driven)


def _rewire(name: str, end: str, node: str) -> Change:
    field = {"a": "first", "b": "second"}[end]
    return _replace_with(name, lambda part: replace(part, **{field: node}))


def _short(first: str, second: str, ohms: float) -> Change:
    bridge = Resistor(name=f"short {first} - {second}", first=first, second=second, ohms=ohms)
    return lambda network: network.with_added(bridge)


def _only_computed_rows(*_: Any) -> Change:
    """Return no change: the operation concerns rows that are left out here."""
    return lambda network: network


_OPERATIONS: dict[str, Callable[..., Change]] = {
    "add": _add,
    "open": _open,
    "close": _close,
    "conadd": lambda relay, ohms: _add(f"{relay}.con", ohms),
    "stuck": _stuck,
    "set": _set,
    "set?": _set,
    "cap": lambda name, value_name, limit: _map_value(
        name, value_name, lambda value: min(value, limit)
    ),
    "gen": lambda name, volts: _map_value(name, "V", lambda _: volts),
    "mul": _multiply,
    "short": _short,
    "rewire": _rewire,
    "fandrive": _full_drive,
    "flag": _only_computed_rows,
    "setflag": _only_computed_rows,
}
