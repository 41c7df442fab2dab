"""Small whole programs for the examples of rules: one complete, harmless sequence around the words that matter."""

from __future__ import annotations

HEAD = """O1000 (SPACER)
N1 G00 G21 G40 G54 G97 G99
T0101
G50 S2000
G96 S180 M03
G00 X62. Z2. M08
"""

TAIL = """G00 X100. Z50.
M09
M05
G97
M30
"""


def turning(body: str, *, head: str = HEAD, tail: str = TAIL) -> str:
    """A complete program: a safe start (lines 1 to 6), the body (from line 7 on), and an end clear of the stock."""
    return head + body.strip("\n") + "\n" + tail
