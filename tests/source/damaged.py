"""The damaged files of fixtures/damaged, each named after its defect: `python -m tests.source.damaged` writes them.

A file `refused-CODE.nc` can't be taken at all; any other one is read, with a problem CODE at the place given here.
"""

from __future__ import annotations

from pathlib import Path

FOLDER = Path(__file__).resolve().parents[2] / "fixtures" / "damaged"


def _around(block: bytes) -> bytes:
    """A small turning program with `block` as its fifth line."""
    return b"%\nO0007 (BUSH)\nG21 G18 G99\nG00 X42. Z2.\n" + block + b"\nG00 X100. Z100.\nM30\n%\n"


def _even_parity(data: bytes) -> bytes:
    return bytes(byte | 0x80 if byte.bit_count() & 1 else byte for byte in data)


# EIA RS-244 code, from memory: odd parity in hole 5, end of block is hole 8 alone.
_EIA_TABLE = {
    "0": 0x20, "1": 0x01, "2": 0x02, "3": 0x13, "4": 0x04, "5": 0x15, "6": 0x16, "7": 0x07, "8": 0x08, "9": 0x19,
    "n": 0x45, "g": 0x67, "x": 0x37, "z": 0x29, "m": 0x54, ".": 0x6B, "-": 0x40, "\n": 0x80, "%": 0x0B,
}  # fmt: skip


def _eia(text: str) -> bytes:
    return bytes(_EIA_TABLE[character] for character in text)


REFUSED: dict[str, bytes] = {
    "refused-empty": b"%\r\n%\r\n",
    "refused-binary": bytes(range(1, 9)) * 4 + b"G00 X1.\n",
    "refused-utf-16": "O0007\nG00 X42. Z2.\nM30\n".encode("utf-16"),
    "refused-archive": b"PK\x03\x04\x14\x00\x00\x00\x08\x00O0007.NC",
    "refused-document": b"%PDF-1.4\n1 0 obj\n",
    "refused-tape-parity": _even_parity(b"%\nO0007\nG00 X42. Z2.\nM30\n%\n"),
    "refused-tape-parity-eia": _eia("%\nn10g00x42.z2.\nn20g01z-30.\nm30\n%\n"),
}

# name: bytes, and line and column of the problem that the name is the code of (up to a double dash)
READ: dict[str, tuple[bytes, int, int]] = {
    "bracket-depth": (_around(b"X" + b"[" * 65 + b"1" + b"]" * 65), 5, 66),
    "byte-order-mark": (b"\xef\xbb\xbf" + _around(b"G01 Z-30. F.2"), 1, 1),
    "code-after-semicolon": (_around(b"G01 Z-30.;X44.;"), 5, 10),
    "comma-for-point": (_around(b"G00 Z,15"), 5, 5),
    "comma-for-point--after-digits": (_around(b"G01 X40,5 F.2"), 5, 5),
    "control-character": (_around(b"\x11G01 Z-30. F.2"), 5, 1),
    "control-character--in-a-word": (_around(b"G01 Z\x1b-30. F.2"), 5, 6),
    "expression-too-deep": (_around(b"#1=1" + b"+1" * 250), 5, 4),
    "letter-o-for-zero": (_around(b"GO1 Z-30. F.2"), 5, 1),
    "letter-o-for-zero--at-the-end": (_around(b"G01 X1O. F.2"), 5, 5),
    "look-alike-character": (_around("G01 Z−30. F.2".encode()), 5, 6),
    "look-alike-character--cyrillic-letter": (_around("G01 Х40. F.2".encode()), 5, 5),
    "look-alike-character--full-width-digits": (_around("G01 X４０. F.2".encode()), 5, 6),
    "look-alike-character--arabic-digits": (_around("G01 X٤٠ F.2".encode()), 5, 6),
    "look-alike-character--no-break-space": (_around("G01 X40.\u00a0F.2".encode()), 5, 9),
    "look-alike-character--soft-hyphen": (_around("G01 X\u00ad40. F.2".encode()), 5, 6),
    "look-alike-character--zero-width-space": (_around("G01 X4\u200b0. F.2".encode()), 5, 7),
    "look-alike-character--direction-control-in-a-comment": (_around("G01 X40. (OK \u202e30)".encode()), 5, 14),
    "merge-conflict": (_around(b"<<<<<<< HEAD\nG01 Z-30. F.2\n=======\nG01 Z-31. F.2\n>>>>>>> other"), 5, 1),
    "mixed-line-ends": (_around(b"G01 Z-30. F.2\r"), 5, 1),
    "nested-comment": (_around(b"G01 Z-30. (CHAMFER (2))"), 5, 11),
    "nested-comment--with-code": (_around(b"(WAS (30.) G01 Z-31. F.2)"), 5, 1),
    "not-utf-8": (_around(b"(B\xfcchse \xd8 40)"), 5, 3),
    "number-too-long": (_around(b"G01 X" + b"1" * 41), 5, 5),
    "number-without-digits": (_around(b"N170 X0 Z"), 5, 9),
    "number-without-digits--lone-sign": (_around(b"G01 X- Z-30."), 5, 5),
    "number-without-digits--lone-point": (_around(b"G01 X. Z-30."), 5, 5),
    "number-without-letter": (_around(b"G01 40. Z-30."), 5, 5),
    "sign-on-a-code": (_around(b"G-00 Z-30."), 5, 1),
    "sign-on-a-code--plus": (_around(b"G01 Z-30. F.2 M+08"), 5, 15),
    "stray-bracket": (_around(b"[BILLET X53 Z49.8"), 5, 1),
    "stray-bracket--round": (_around(b"G01 X40.) Z-30."), 5, 9),
    "stray-comma": (_around(b"G01 X40., Z-30."), 5, 9),
    "stray-per-cent": (_around(b"G01 X40. % Z-30."), 5, 10),
    "stray-text": (_around(b"roughing pass"), 5, 1),
    "tape-leader": (bytes(6) + _around(b"G01 Z-30. F.2") + b"\x7f\x7f\x00", 1, 1),
    "text-after-end": (_around(b"G01 Z-30. F.2") + b"G00 X0.\n", 9, 1),
    "text-before-start": (b"G00 X0.\n" + _around(b"G01 Z-30. F.2"), 1, 1),
    "two-points": (_around(b"G0X-4.5.Z0."), 5, 3),
    "two-points--three-parts": (_around(b"G01 X1.2.3"), 5, 5),
    "two-signs": (_around(b"G01 X+-4.5"), 5, 5),
    "unclosed-comment": (_around(b"(130 G03 X30.64 Z-17. I-0.58 K-3.87"), 5, 1),
    "unclear-order": (_around(b"IF [#1 EQ 1 AND #2 EQ 2] GOTO 10"), 5, 4),
    "unreadable-block": (_around(b"# nonsense"), 5, 3),
    "unreadable-block--bracket-not-closed": (_around(b"G01 X[#1+2 Z-30."), 5, 12),
    "unreadable-block--named-variable": (_around(b"G01 Z#<depth>"), 5, 7),
    "unreadable-block--if-alone": (_around(b"IF [#1 EQ 1] THEN"), 5, 1),
    "unreadable-block--while-alone": (_around(b"WHILE [#1 LT 5]"), 5, 1),
}


def files() -> dict[str, bytes]:
    """Name and bytes of every file in the folder."""
    return {f"{name}.nc": data for name, data in REFUSED.items()} | {
        f"{name}.nc": read[0] for name, read in READ.items()
    }


def code_of(name: str) -> str:
    """The problem code that a file of this name shows."""
    return name.removeprefix("refused-").removesuffix("-eia").partition("--")[0]


if __name__ == "__main__":
    FOLDER.mkdir(parents=True, exist_ok=True)
    for file, content in files().items():
        (FOLDER / file).write_bytes(content)
