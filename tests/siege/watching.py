"""What Python does while a command runs, by an audit hook: files opened for writing, renames, processes, sockets, code compiled."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

MARK = "hurtmarker"  # stands in every hostile word, so that it is known again wherever it comes out


def text(value: str) -> str:
    """A literal string of TOML."""
    return f"'{value}'" if "'" not in value else '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'


WRITES = ("os.mkdir", "os.rename", "os.remove", "os.rmdir", "os.symlink", "os.link", "os.truncate", "os.chmod", "os.chown",
"shutil.move",
          "shutil.rmtree", "shutil.copyfile", "shutil.copytree", "tempfile.mkstemp", "tempfile.mkdtemp")  # fmt: skip
RUNS = ("subprocess.Popen", "os.system", "os.exec", "os.posix_spawn", "os.spawn", "os.fork", "os.forkpty", "pty.spawn",
"os.startfile",
        "socket.connect", "socket.bind", "socket.getaddrinfo", "urllib.Request", "ctypes.dlopen", "pickle.find_class",
        "code.__new__",
        "webbrowser.open", "ftplib.connect", "http.client.connect", "marshal.loads")  # fmt: skip


class _Watch:
    """What happened while it was on: an audit hook cannot be taken away again."""

    on = False
    installed = False
    written: list[str] = []
    ran: list[str] = []


def _hook(event: str, args: tuple[Any, ...]) -> None:
    if not _Watch.on:
        return
    if event == "open":
        path, mode, flags = args
        wanted = isinstance(flags, int) and flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND)
        if wanted or (isinstance(mode, str) and set(mode) & set("wax+")):
            _Watch.written.append(os.fsdecode(path) if isinstance(path, (str, bytes)) else str(path))
    elif event in WRITES:
        _Watch.written += [os.fsdecode(a) for a in args if isinstance(a, (str, bytes, os.PathLike))]
    elif event in ("compile", "exec", "import"):
        # the standard library compiles named tuples and the like: only what comes from the case counts
        shown = " ".join(
            a.decode("utf-8", "replace") if isinstance(a,
            bytes) else f"{a.co_filename} {a.co_consts} {a.co_names}" if hasattr(a, "co_consts") else str(a)
            for a in args[:2]
        )  # fmt: skip
        if MARK in shown:
            _Watch.ran.append(f"{event}: {shown[:200]}")
    elif event in RUNS and event not in ("marshal.loads", "code.__new__"):
        _Watch.ran.append(f"{event}: {str(args)[:200]}")


@contextmanager
def watched() -> Iterator[type[_Watch]]:
    """All that happens in the block is noted."""
    if not _Watch.installed:
        sys.addaudithook(_hook)
        _Watch.installed = True
    _Watch.written, _Watch.ran, _Watch.on = [], [], True
    try:
        yield _Watch
    finally:
        _Watch.on = False
