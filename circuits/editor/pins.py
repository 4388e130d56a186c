"""A relay or a module told pin by pin, turned into the rows that a circuit has for it.

A pin is a connection of its own unless it is said which connection it is. Values start from what
is usual for a 12 V vehicle; they are shown and can be typed over, and count as assumed.
"""

from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints

from circuits.editor.table import Row
from circuits.editor.terminals import TERMINALS

Short = Annotated[str, StringConstraints(max_length=100, strip_whitespace=True)]

#: What a pin of a module does -> in words, and the value that its part starts from.
ROLES: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "plus": ("supply +", "0.1 A"),
        "ground": ("ground", ""),
        "to ground": ("switches to ground", "400 mOhm"),
        "to plus": ("switches to plus", "30 mOhm"),
        "senses": ("senses volts", "100 kOhm"),
        "senses, pulled up": ("senses, pulled up to plus", "1 kOhm"),
        "gives 5 V": ("gives 5 V", "5.00 V, 300 mOhm, max 0.15 A, within 0.05 V"),
    }
)

#: Relay -> its pins, by their standard numbers.
RELAYS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "relay": ("30", "85", "86", "87"),
        "change-over relay": ("30", "85", "86", "87", "87a"),
        "relay with two outputs": ("30", "85", "86", "87", "87b"),
    }
)

COIL_VALUES = "85 Ohm"
CONTACT_VALUES = "made 5 mOhm, pulls in 7.2 V, lets go 2.0 V"


class Pin(BaseModel):
    """One pin: its number, what it does (modules), its value, and the connection that it is."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    number: Short
    role: Short = ""
    value: Annotated[str, StringConstraints(max_length=300, strip_whitespace=True)] = ""
    connection: Short = ""


class Device(BaseModel):
    """A relay or a module with its pins."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    kind: Literal["relay", "change-over relay", "relay with two outputs", "module"]
    name: Annotated[str, StringConstraints(min_length=1, max_length=20, strip_whitespace=True)]
    coil: Short = COIL_VALUES
    contact: Annotated[str, StringConstraints(max_length=300)] = CONTACT_VALUES
    pins: Annotated[tuple[Pin, ...], Field(min_length=1, max_length=120)]

    def connection(self, pin: Pin) -> str:
        return pin.connection or f"{self.name}/{pin.number}"

    def pin(self, number: str) -> str:
        """Return the connection of the pin with this number, or an empty name."""
        found = (self.connection(pin) for pin in self.pins if pin.number == number)
        return next(found, "")

    def with_role(self, role: str) -> str:
        return next((self.connection(pin) for pin in self.pins if pin.role == role), "")


def rows_of(device: Device) -> dict[str, tuple[Row, ...]]:
    """Return the rows that a device adds to the connections and to the parts."""
    parts = _module(device) if device.kind == "module" else _relay(device)
    return {"connections": tuple(_connections(device)), "parts": tuple(parts)}


def _connections(device: Device) -> Iterator[Row]:
    for pin in device.pins:
        if pin.connection:
            continue
        what = TERMINALS.get(pin.number, "") if device.kind != "module" else ""
        what = what or ROLES.get(pin.role, ("", ""))[0]
        words = f"{device.kind} {device.name}, {pin.number}"
        yield Row(
            cells={
                "node": device.connection(pin),
                "kind": "pin",
                "label": f"{words}: {what}" if what else words,
            }
        )


def _relay(device: Device) -> Iterator[Row]:
    coil = f"{device.name}.coil"
    yield _part(coil, "coil", device.pin("86"), device.pin("85"), device.coil)
    for number, end, closed in (
        ("87", "con", False),
        ("87b", "con2", False),
        ("87a", "rest", True),
    ):
        if device.pin(number):
            said = f"by {coil}, {device.contact}{', normally closed' if closed else ''}"
            yield _part(
                f"{device.name}.{end}", "contact", device.pin("30"), device.pin(number), said
            )


def _module(device: Device) -> Iterator[Row]:
    plus, ground = device.with_role("plus"), device.with_role("ground")
    for pin in device.pins:
        here = device.connection(pin)
        name = f"{device.name}.{pin.number}"
        match pin.role:
            case "plus" if here == plus:
                yield _part(f"{device.name}.own", "current", here, ground, pin.value)
            case "to ground":
                yield _part(name, "driver", here, ground, pin.value)
            case "to plus":
                yield _part(name, "driver", plus, here, pin.value)
            case "senses":
                yield _part(name, "input", here, ground, pin.value)
            case "senses, pulled up":
                yield _part(name, "resistor", plus, here, pin.value)
            case "gives 5 V":
                yield _part(name, "generator", here, ground, pin.value)


def _part(name: str, kind: str, first: str, second: str, values: str) -> Row:
    cells = {"name": name, "kind": kind, "first": first, "second": second, "values": values}
    return Row(cells=cells)
