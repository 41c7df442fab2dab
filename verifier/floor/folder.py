"""Writing one file into a machine's folder completely or not at all, and reading it without following links."""

from __future__ import annotations

import os
import stat
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path

#: What an unfinished file is called; the watch names one that a crash left behind, and the next write sweeps it.
TEMPORARY = ".unfinished-"

#: Told the name of each step as it is reached.
Step = Callable[[str], None]

_NOFOLLOW = getattr(os, "O_NOFOLLOW", 0)
_BINARY = getattr(os, "O_BINARY", 0)
_NONBLOCK = getattr(os, "O_NONBLOCK", 0)
#: A floor copy is never larger than a program may be; a file beyond it is told apart without being read whole.
READ_LIMIT = 64 * 1024 * 1024 + 1


class FolderTrouble(Exception):
    """Why a folder could not be read or written, in words for people; never leaves this package."""


def read_file(path: Path) -> bytes | None:
    """The bytes of a plain file, None where there is none; FolderTrouble for a link, a folder or an unreadable one."""
    try:
        descriptor = os.open(path, os.O_RDONLY | _NOFOLLOW | _BINARY | _NONBLOCK)
    except FileNotFoundError:
        return None
    except OSError as error:
        raise FolderTrouble(f"{path.name} is not a readable file: {error.strerror}") from error
    try:
        if not stat.S_ISREG(os.fstat(descriptor).st_mode):
            raise FolderTrouble(f"{path.name} is not a file")
        with os.fdopen(os.dup(descriptor), "rb") as file:
            return file.read(READ_LIMIT)
    except OSError as error:
        raise FolderTrouble(f"{path.name} cannot be read: {error.strerror}") from error
    finally:
        os.close(descriptor)


def digest_of(path: Path) -> str | None:
    """SHA-256 of a plain file, None where there is none; FolderTrouble as `read_file`."""
    content = read_file(path)
    return None if content is None else sha256(content).hexdigest()


def write_whole(path: Path, content: bytes, token: str, wanted: Callable[[], bool], step: Step) -> bool:
    """Put `content` under `path` in one step that a crash cannot split; True once it was read back, False if not wanted.

    Writes a temporary file in the same folder, forces it to disk, reads it back, asks `wanted` a last time, renames,
    forces the folder to disk, and reads back again under the final name. Raises FolderTrouble; the old file then stands.
    """
    temporary = path.with_name(TEMPORARY + token)
    try:
        _write_new(temporary, content, step)
        if digest_of(temporary) != sha256(content).hexdigest():
            raise FolderTrouble(f"{path.name} was not stored as it was written")
        step("checked")
        if not wanted():
            temporary.unlink()
            return False
        os.replace(temporary, path)
        step("renamed")
        sync_folder(path.parent)
        step("folder synced")
    except OSError as error:
        _drop(temporary)
        raise FolderTrouble(f"{path.name} cannot be written: {error.strerror or error}") from error
    except FolderTrouble:
        _drop(temporary)
        raise
    if digest_of(path) != sha256(content).hexdigest():
        raise FolderTrouble(f"{path.name} does not read back as it was written")
    return True


def _write_new(path: Path, content: bytes, step: Step) -> None:
    descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _NOFOLLOW | _BINARY, 0o644)
    try:
        step("created")
        view = memoryview(content)
        half = len(view) // 2
        for number, part in enumerate((view[:half], view[half:])):
            while part:
                part = part[os.write(descriptor, part) :]
            step("half written" if number == 0 else "written")
        os.fsync(descriptor)
        step("synced")
    finally:
        os.close(descriptor)


def _drop(path: Path) -> None:
    try:
        path.unlink()
    except OSError:
        return  # the watch will name it


def remove_whole(path: Path, step: Step) -> None:
    """Take a file (or a link under its name) away and force that to disk. Raises FolderTrouble."""
    try:
        path.unlink(missing_ok=True)
        step("removed")
        sync_folder(path.parent)
        step("folder synced")
    except OSError as error:
        raise FolderTrouble(f"{path.name} cannot be taken away: {error.strerror or error}") from error


def sync_folder(folder: Path) -> None:
    """Force a folder's entries to disk; where the system has no way to, the rename is all there is."""
    if not hasattr(os, "O_DIRECTORY"):
        return
    descriptor = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def names_in(folder: Path) -> list[str]:
    """The names in a folder, sorted. Raises FolderTrouble where it cannot be reached."""
    try:
        return sorted(os.listdir(folder))
    except OSError as error:
        raise FolderTrouble(f"the folder cannot be reached: {error.strerror or error}") from error


def sweep(folder: Path) -> None:
    """Take away what earlier, broken-off writes left; only under the folder's lock, where nobody else is writing."""
    for name in names_in(folder):
        if name.startswith(TEMPORARY):
            _drop(folder / name)


def beside(folder: Path) -> Path:
    """The folder beside a machine's folder that holds its manifest and its lock."""
    return folder.with_name(folder.name + ".manifest")
