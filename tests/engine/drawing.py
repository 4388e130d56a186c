"""Short words to draw a circuit with: a part, the two places it joins, its value."""

from circuits.engine import (
    Battery,
    Coil,
    Contact,
    Generator,
    IdealCurrent,
    IdealSource,
    KeyState,
    Motor,
    Network,
    Part,
    Phase,
    Place,
    Resistor,
    Switch,
)


def resistor(name: str, ends: str, ohms: float) -> Resistor:
    first, second = ends.split(" - ")
    return Resistor(name=name, first=first, second=second, ohms=ohms)


def source(name: str, ends: str, volts: float) -> IdealSource:
    """Return volts without an inner resistance, plus at the first place."""
    first, second = ends.split(" - ")
    return IdealSource(name=name, first=first, second=second, volts=volts)


def current(name: str, ends: str, amps: float) -> IdealCurrent:
    """Return amps that flow from the first place to the second, through the part."""
    first, second = ends.split(" - ")
    return IdealCurrent(name=name, first=first, second=second, amps=amps)


def battery(
    name: str, ends: str, volts: float, ohms: float, charging_ohms: float | None = None
) -> Battery:
    first, second = ends.split(" - ")
    return Battery(
        name=name,
        first=first,
        second=second,
        open_circuit_volts=volts,
        internal_ohms=ohms,
        charging_ohms=charging_ohms,
    )


def generator(name: str, ends: str, volts: float, ohms: float, max_amps: float) -> Generator:
    first, second = ends.split(" - ")
    return Generator(
        name=name,
        first=first,
        second=second,
        volts=volts,
        internal_ohms=ohms,
        max_amps=max_amps,
    )


def motor(
    name: str, ends: str, base_amps: float, amps_per_volt: float, stalled_ohms: float
) -> Motor:
    first, second = ends.split(" - ")
    return Motor(
        name=name,
        first=first,
        second=second,
        base_amps=base_amps,
        amps_per_volt=amps_per_volt,
        stalled_ohms=stalled_ohms,
    )


def switch(name: str, ends: str, *, closed: bool = True, closed_ohms: float = 0.01) -> Switch:
    first, second = ends.split(" - ")
    return Switch(name=name, first=first, second=second, closed=closed, closed_ohms=closed_ohms)


def coil(name: str, ends: str, ohms: float, *, celsius: float = 20.0) -> Coil:
    first, second = ends.split(" - ")
    return Coil(name=name, first=first, second=second, ohms=ohms, celsius=celsius)


def contact(
    name: str,
    ends: str,
    *,
    of: Coil,
    pull_in_volts: float,
    drop_out_volts: float,
    made_ohms: float = 0.005,
    normally_closed: bool = False,
) -> Contact:
    first, second = ends.split(" - ")
    return Contact(
        name=name,
        first=first,
        second=second,
        coil=of.name,
        coil_ohms=of.ohms,
        pull_in_volts=pull_in_volts,
        drop_out_volts=drop_out_volts,
        made_ohms=made_ohms,
        normally_closed=normally_closed,
    )


def volts_place(key: str, leads: str) -> Place:
    red, black = leads.split(" - ")
    return Place(key=key, red=red, black=black)


def phases(**changes: Part | tuple[Part, ...]) -> tuple[Phase, ...]:
    """Return phases in order, each with the parts that differ in it."""
    return tuple(
        Phase(
            name=name.replace("_", " "),
            key_state=KeyState.ON,
            changes={p.name: p for p in (parts if isinstance(parts, tuple) else (parts,))},
        )
        for name, parts in changes.items()
    )


def network(*parts: Part, zero: str, phases: tuple[Phase, ...] = ()) -> Network:
    if not phases:
        return Network(parts=parts, zero=zero)
    return Network(parts=parts, zero=zero, phases=phases)
