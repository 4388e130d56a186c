"""The smallest sheet that means something, to be changed a little, and what is wrong with one."""

import pytest

from circuits.sheet import SheetErrors, read_text

SMALL = """\
[vehicle]
key: small
title: One lamp
system: lighting
zero: BN

[connections]
BP  post
BN  post
L   pin

[phases]
off  off  key off
on   on   ignition on

[parts]
B1  battery  BP - BN  12.6 V, 10 mOhm
S1  switch   BP - L   20 mOhm; off: open
R1  resistor L - BN   6 Ohm
"""


def flaws_of(text):
    with pytest.raises(SheetErrors) as caught:
        read_text(text)
    return caught.value.flaws
