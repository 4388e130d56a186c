"""Small circuits for tests, from their parts' lines alone: the rest of the sheet is made up."""

from circuits.sheet import Sheet, read_text

_HEAD = """
[vehicle]
key: small
title: Small circuit
system: test
volts: {volts} V
zero: BN
body: {body}
plus: BP
"""


def drawn(parts: str, **sections) -> Sheet:
    """Return the sheet of these parts; every connection they name is a pin."""
    return read_text(drawn_text(parts, **sections))


def drawn_text(
    parts: str, *, phases: str = "on  on  switched on", places="", codes="", hazards="", volts=12
) -> str:
    """Return the same as text."""
    lines = [line.split() for line in parts.splitlines() if line.strip()]
    nodes = dict.fromkeys(node for words in lines for node in (words[2], words[4]))
    connections = "\n".join(f"{node} pin" for node in nodes)
    sections = {
        "connections": connections,
        "phases": phases,
        "parts": parts,
        "places": places,
        "codes": codes,
        "hazards": hazards,
    }
    body = "CH" if "CH" in nodes else "BN"
    text = _HEAD.format(volts=volts, body=body)
    return text + "".join(f"\n[{name}]\n{said}\n" for name, said in sections.items())
