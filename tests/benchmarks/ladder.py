"""Circuits of any size for the cost against size: consumers behind fuses, relays and grounds."""

from circuits.engine import Battery, Coil, Contact, Fuse, Ground, Network, Part, Resistor, Wire

NODES_EACH = 5


def ladder(nodes: int) -> Network:
    """Return a battery with as many relay-switched consumers as come nearest to so many nodes."""
    parts: list[Part] = [
        Battery(name="B1", first="BP", second="BN", open_circuit_volts=12.6, internal_ohms=0.011),
        Ground(name="strap", first="CH", second="BN", ohms=0.002),
    ]
    for number in range(max(1, round((nodes - 3) / NODES_EACH))):
        parts += _consumer(number, "BP")
    return Network(parts=tuple(parts), zero="BN", body="CH", supply="BP")


def _consumer(number: int, feed: str) -> list[Part]:
    fused, made, plug, ground, driven = (f"{what}{number}" for what in ("F", "K", "P", "G", "D"))
    return [
        Fuse(name=f"fuse{number}", first=feed, second=fused, rated_amps=15.0),
        Contact(
            name=f"contact{number}",
            first=fused,
            second=made,
            coil=f"coil{number}",
            coil_ohms=90.0,
            pull_in_volts=7.2,
            drop_out_volts=2.0,
            made_ohms=0.008,
        ),
        Wire(name=f"wire{number}", first=made, second=plug, wire_mm2=1.5, metres=2.0 + number % 5),
        Resistor(name=f"load{number}", first=plug, second=ground, ohms=3.0 + number % 7),
        Ground(name=f"ground{number}", first=ground, second="CH", ohms=0.004),
        Coil(name=f"coil{number}", first=fused, second=driven, ohms=90.0),
        Wire(name=f"drive{number}", first=driven, second="CH", wire_mm2=0.5, metres=1.5),
    ]
