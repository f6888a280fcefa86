"""Processes followed from outside (Linux): CPU time and members of a session, and the moments at which files change."""

from __future__ import annotations

import ctypes
import os
import select
import struct
import subprocess
import time
from pathlib import Path

# of <sys/inotify.h>
MODIFY, CLOSE_WRITE, MOVED_TO, CREATE, IS_DIR = 0x2, 0x8, 0x80, 0x100, 0x40000000
WRITING = MODIFY | CLOSE_WRITE | MOVED_TO | CREATE


def members(session: int) -> dict[int, float]:
    """Processes of a session that live, with the CPU time of each and of the children that it has waited for [s]."""
    found, tick = {}, os.sysconf("SC_CLK_TCK")
    for entry in os.scandir("/proc"):
        if entry.name.isdecimal():
            try:
                text = Path(entry.path, "stat").read_text(encoding="ascii", errors="replace")
            except OSError:
                continue
            fields = text.rsplit(")", 1)[1].split()
            if int(fields[3]) == session and fields[0] not in "ZX":
                found[int(entry.name)] = sum(map(int, fields[11:15])) / tick
    return found


class Changes:
    """What happens in a folder and in folders that are made in it, as it happens."""

    def __init__(self, folder: Path):
        self.library = ctypes.CDLL(None, use_errno=True)
        self.descriptor = self.library.inotify_init1(os.O_CLOEXEC)
        self.folders: dict[int, Path] = {}
        self.add(folder)

    def add(self, folder: Path) -> None:
        """Look into that folder too."""
        self.folders[self.library.inotify_add_watch(self.descriptor, os.fsencode(folder), WRITING)] = folder

    def close(self) -> None:
        """Look no longer."""
        os.close(self.descriptor)

    def wait(self, seconds: float) -> int:
        """How many files were made, written to, closed or renamed meanwhile, by now or when the first of it happens."""
        if not select.select([self.descriptor], [], [], seconds)[0]:
            return 0
        data, count, place = os.read(self.descriptor, 65536), 0, 0
        while place < len(data):
            watch, mask, _, length = struct.unpack_from("iIII", data, place)
            name = data[place + 16 : place + 16 + length].rstrip(b"\0")
            place += 16 + length
            if mask & CREATE and mask & IS_DIR:
                self.add(self.folders[watch] / os.fsdecode(name))
            else:
                count += 1
        return count


def until_cpu(process: subprocess.Popen[bytes], seconds: float) -> bool:
    """Wait until a process and its kind have used that much; False where it ends first."""
    while process.poll() is None:
        if sum(members(process.pid).values()) >= seconds:
            return True
        time.sleep(0.004)
    return False


def until_change(process: subprocess.Popen[bytes], changes: Changes, number: int) -> bool:
    """Wait until that many changes of files; False where it ends first."""
    seen = 0
    while process.poll() is None:
        seen += changes.wait(0.05)
        if seen >= number:
            return True
    return False


def gone(session: int, seconds: float) -> list[int]:
    """Processes of a session that live on after so many seconds."""
    until = time.monotonic() + seconds
    while left := list(members(session)):
        if time.monotonic() > until:
            return left
        time.sleep(0.02)
    return []
