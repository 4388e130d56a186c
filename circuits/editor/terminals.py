"""Standard terminal numbers, and what stands on each of them.

DIN 72552 (edition 1971-03) numbers the terminals of road vehicles. 30, 31, 31b, 50, B+, B-, D+,
85 to 87a: read in public summaries of the standard; 15, 49 to 58, 61: value from memory. The
words are ours.
"""

from collections.abc import Mapping
from types import MappingProxyType

TERMINALS: Mapping[str, str] = MappingProxyType(
    {
        "15": "plus with the ignition on",
        "30": "plus, straight from the battery",
        "30a": "plus of a second battery, 12/24 V",
        "31": "minus or ground",
        "31b": "minus, switched",
        "49": "flasher, in",
        "49a": "flasher, out",
        "50": "starter, asked for",
        "53": "wiper motor, plus",
        "53a": "wiper motor, park switch plus",
        "54": "brake lamps",
        "56": "headlamps",
        "56a": "main beam",
        "56b": "dipped beam",
        "58": "side and tail lamps",
        "61": "charge lamp",
        "85": "relay winding, minus end",
        "86": "relay winding, plus end",
        "87": "relay, made when pulled in",
        "87a": "relay, made at rest",
        "87b": "relay, second output",
        "B+": "generator, to battery plus",
        "B-": "generator, to battery minus",
        "D+": "generator, charge lamp and supply of the winding",
    }
)
