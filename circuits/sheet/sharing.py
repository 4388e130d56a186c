"""What a sheet has of a thing that it shares with other sheets of the vehicle."""

import re

from circuits.sheet.model import Sheet


def sharers(sheet: Sheet, name: str) -> tuple[str, ...]:
    """Return the parts and connections of a sheet that are the thing of this name.

    `F15` is the part or connection itself; `E08` is also the module whose pins are written
    `E08.12` or `E08/12`, and `K1` the relay with `K1.coil` and `K1.con`.
    """
    belongs = re.compile(rf"{re.escape(name)}(?:[./].+)?")
    names = [part.name for part in sheet.parts]
    names += [connection.node for connection in sheet.connections]
    return tuple(each for each in names if belongs.fullmatch(each))
