"""Which encoding a program's bytes are in: UTF-8 with or without a byte order mark, else Windows-1252, else Latin-1."""

from __future__ import annotations

BYTE_ORDER_MARK = b"\xef\xbb\xbf"


def find_encoding(data: bytes) -> str:
    """The name Python knows the encoding by: "utf-8" (plain ASCII too), "utf-8-sig", "cp1252" or "latin-1".

    Every answer decodes the whole of `data`, so that no later reading of a line can fail.
    """
    if data.isascii():
        return "utf-8"
    for name in ("utf-8-sig" if data.startswith(BYTE_ORDER_MARK) else "utf-8", "cp1252"):
        try:
            data.decode(name)
        except UnicodeDecodeError:
            continue
        return name
    return "latin-1"
