"""Names that become files: what a program, machine, group or login may be called, refused alike on every platform."""

from __future__ import annotations

import re

from verifier.source import ActRefused

_PROGRAM = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,31}")
_NUMBER = re.compile(r"[Oo][0-9]+")
_PLACE = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,31}")
_LOGIN = re.compile(r"[a-z0-9][a-z0-9._-]{0,31}")
_EXTENSION = re.compile(r"(\.[A-Za-z0-9]{1,8})?")

_NUMBER_DIGITS = 8

# Device names of old operating systems, which a Windows share still honours with any extension.
RESERVED = frozenset(
    ["CON", "PRN", "AUX", "NUL", "CONIN$", "CONOUT$", "CLOCK$"]
    + [f"{port}{n}" for port in ("COM", "LPT") for n in (*"0123456789", "\u00b9", "\u00b2", "\u00b3")]
)


def is_reserved(file_name: str) -> bool:
    """Whether a file name stands for a device on some platform, whatever follows its first point."""
    return file_name.split(".", 1)[0].rstrip(" ").upper() in RESERVED


def _refuse(what: str, name: str, rule: str) -> ActRefused:
    return ActRefused("bad_name", f"{name!r} cannot be the name of a {what}", rule)


def check_program_name(name: str) -> str:
    """Give the name back, or raise ActRefused `bad_name` saying the rule."""
    if is_reserved(name):
        raise _refuse("program", name, "it is the name of a device on some computers; choose another")
    if not _PROGRAM.fullmatch(name):
        raise _refuse("program", name, "use 1 to 32 letters, digits, - and _, beginning with a letter or digit")
    if _NUMBER.fullmatch(name) and (len(name) - 1 > _NUMBER_DIGITS or int(name[1:]) == 0):
        raise _refuse("program", name, f"a program number is O and 1 to {_NUMBER_DIGITS} digits, and not zero")
    return name


def fold_program_name(name: str) -> str:
    """What two program names share when a control or a file share could take one for the other (o12 and O0012)."""
    if _NUMBER.fullmatch(name):
        return f"O{int(name[1:])}"
    return name.upper()


def number_of(name: str) -> int | None:
    """The program number that a name stands for, or None."""
    return int(name[1:]) if _NUMBER.fullmatch(name) else None


def check_place_name(what: str, name: str) -> str:
    """Check the name of a machine or a group; raises ActRefused `bad_name`."""
    if is_reserved(name) or not _PLACE.fullmatch(name):
        raise _refuse(what, name, "use 1 to 32 letters, digits, - and _, beginning with a letter or digit")
    return name


def check_login(name: str) -> str:
    """Check a person's login; raises ActRefused `bad_name`."""
    if not _LOGIN.fullmatch(name):
        raise _refuse("person", name, "use 1 to 32 small letters, digits, points, - and _")
    return name


def check_text(what: str, text: str, longest: int = 2000) -> str:
    """Check words written by a person (a name, a reason): not blank, no control characters, not too long."""
    plain = text.strip()
    if not plain:
        raise ActRefused("reason_missing" if what == "reason" else "bad_text", f"a {what} is required")
    if len(plain) > longest:
        raise ActRefused("bad_text", f"the {what} has {len(plain)} characters, the most is {longest}")
    if any(not c.isprintable() and c not in "\n\t" for c in plain):
        raise ActRefused("bad_text", f"the {what} holds characters that cannot be shown")
    return plain


def check_extension(extension: str) -> str:
    """Check the file extension of a machine's folder: empty, or a point and 1 to 8 letters or digits."""
    if not _EXTENSION.fullmatch(extension):
        raise ActRefused(
            "bad_name", f"{extension!r} cannot be a file extension", "a point and 1 to 8 letters or digits"
        )
    return extension


def file_name(program: str, extension: str) -> str:
    """The name of a floor copy; checked again here because it is what gets written."""
    name = check_program_name(program) + check_extension(extension)
    if is_reserved(name):
        raise _refuse("file", name, "it is the name of a device on some computers")
    return name
