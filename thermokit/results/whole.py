"""A file under its final name is always whole: written under another name, forced to disk, then renamed."""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
import time
from pathlib import Path

from thermokit.errors import DataError

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None  # type: ignore[assignment]

# Windows needs the first, elsewhere it does not exist: without it a text-mode write would change the bytes
_BINARY: int = getattr(os, "O_BINARY", 0)
_NO_LINK: int = getattr(os, "O_NOFOLLOW", 0)
PATIENCE = 60.0  # s in which another writer of the same name must be done: it holds its lock for the write only

_REASONS = {
    errno.ENOSPC: "the disk is full; free some space, or name another folder",
    errno.EDQUOT: "your share of the disk is used up; free some space, or name another folder",
    errno.EACCES: "you may not write in that folder; name another one",
    errno.EPERM: "you may not write in that folder; name another one",
    errno.EROFS: "that disk can only be read; name another folder",
    errno.ENOENT: "there is no such folder; make it first, or name another one",
    errno.ENOTDIR: "part of that path is a file, not a folder",
    errno.ENAMETOOLONG: "that name is too long",
    errno.EFBIG: "the file is larger than that disk allows",
    errno.EIO: "the disk reported a fault",
    errno.EBUSY: "another process has been writing that file for a minute; end it, or give another name",
}


def write_whole(path: str | Path, data: bytes | bytearray | memoryview) -> None:
    """Put these bytes under that name, all of them or none.

    Whatever stops the write (a full disk, a kill, a lost mains supply), the name holds either the old file or the new
    one. A kill may leave a hidden ``.NAME.part`` beside it: the next write of that name takes it over. Of writers at the
    same time the last one's file stays.

    Parameters
    ----------
    path : str or Path
        final name; a symbolic link is followed, so that the link itself stays
    data : bytes
        the whole content

    Raises
    ------
    DataError
        the folder is missing or cannot be written, the disk is full, or the name is that of a folder or a device

    """
    target = Path(os.path.realpath(path))
    if target.is_dir():
        raise DataError(f"cannot write {path}: that is a folder; give a file name")
    if target.exists() and not target.is_file():
        # renaming onto a device such as /dev/null would replace the device itself
        raise DataError(f"cannot write {path}: that is not an ordinary file; give a file name")
    try:
        _write_and_rename(target, memoryview(data).cast("B"))
    except OSError as error:
        reason = _REASONS.get(error.errno or 0, error.strerror or str(error))
        raise DataError(f"cannot write {path}: {reason}") from None


def _write_and_rename(target: Path, view: memoryview) -> None:
    """Write, force to disk, rename; on any failure take the unfinished file away."""
    part, descriptor = _unfinished(target)
    try:
        try:
            while view:
                view = view[os.write(descriptor, view) :]
            os.fsync(descriptor)
            if fcntl is not None:
                os.replace(part, target)  # noqa: PTH105 -- before the lock goes with the descriptor
        finally:
            os.close(descriptor)
        if fcntl is None:  # Windows renames no open file
            os.replace(part, target)  # noqa: PTH105
    except BaseException:
        with contextlib.suppress(OSError):
            part.unlink()
        raise
    # The new name itself is only safe once its folder is on disk; some file systems cannot do that, and lose nothing.
    with contextlib.suppress(OSError):
        folder = os.open(target.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


def _unfinished(target: Path) -> tuple[Path, int]:
    """The empty file to write into, and its descriptor: one left by a killed writer is taken over, a live one's is not.

    Who holds its lock owns it, and the lock ends with the process; where there are no locks every writer has a file of its own.
    """
    stem = "." + os.fsdecode(os.fsencode(target.name)[:200])  # names may have 255 bytes
    part = target.with_name(f"{stem}.part")
    until = time.monotonic() + PATIENCE
    while fcntl is not None:
        try:
            descriptor = os.open(part, os.O_RDWR | os.O_CREAT | _NO_LINK, 0o666)
        except OSError as error:
            if error.errno in (errno.EACCES, errno.EPERM, errno.ELOOP, errno.EISDIR):
                break  # another user's, or no file at all
            raise
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
            if _is_still(part, descriptor):
                os.ftruncate(descriptor, 0)
                return part, descriptor
        except BlockingIOError:
            if time.monotonic() > until:
                os.close(descriptor)
                raise OSError(errno.EBUSY, os.strerror(errno.EBUSY)) from None
            time.sleep(0.01)
        except OSError:  # a file system without locks
            os.close(descriptor)
            with contextlib.suppress(OSError):
                part.unlink()
            break
        except BaseException:
            os.close(descriptor)
            raise
        os.close(descriptor)
    part = target.with_name(f"{stem}.{secrets.token_hex(4)}.part")
    return part, os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _BINARY, 0o666)


def name_in_memory() -> str:
    """A name for an HDF5 file that is built in memory: two threads cannot have one of the same name open."""
    return f"{secrets.token_hex(8)}.h5"


def _is_still(part: Path, descriptor: int) -> bool:
    """Whether an open file has kept its name: the writer before us may have renamed it."""
    try:
        return os.path.samestat(part.stat(), os.fstat(descriptor))
    except OSError:
        return False
