"""A file under its final name is always whole: written under another name, forced to disk, then renamed."""

from __future__ import annotations

import contextlib
import errno
import os
from pathlib import Path

from thermokit.errors import DataError

# Windows needs it, elsewhere it does not exist: without it a text-mode write would change the bytes
_BINARY: int = getattr(os, "O_BINARY", 0)

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
}


def write_whole(path: str | Path, data: bytes | bytearray | memoryview) -> None:
    """Put these bytes under that name, all of them or none.

    Whatever stops the write (a full disk, a kill, a lost mains supply), the name holds either the old file or the new
    one. A kill may leave a hidden ``.part`` file beside it, which can be deleted.

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
    part = target.with_name(f".{target.name[:200]}.{os.getpid()}.part")
    try:
        _write_and_rename(part, target, memoryview(data).cast("B"))
    except OSError as error:
        reason = _REASONS.get(error.errno or 0, error.strerror or str(error))
        raise DataError(f"cannot write {path}: {reason}") from None


def _write_and_rename(part: Path, target: Path, view: memoryview) -> None:
    """Write, force to disk, rename; on any failure take the unfinished file away."""
    descriptor = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | _BINARY, 0o666)
    try:
        try:
            while view:
                view = view[os.write(descriptor, view) :]
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
        os.replace(part, target)  # noqa: PTH105 -- stands beside os.open and os.write, one kind of call
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
