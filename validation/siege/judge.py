"""One file given to thermokit in this process, as a user would through the command, and what came of it judged.

Allowed are exit status 0, 1 with a plain message, and 2 with a message that names file and place. All else is a find: an
exception, another status, a RuntimeWarning, NaN in JSON, a control character or more than 20 kB in a message, too long, too
much memory.
"""

from __future__ import annotations

import contextlib
import io
import json
import math
import re
import signal
import time
import traceback
import warnings
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType
from typing import Any

MOST_CPU = 20.0  # s of a command
MOST_WAIT = 60.0  # s in which a command uses less than IDLE s of CPU: it waits for what does not come
IDLE = 0.2
MOST_MESSAGE = 20_000  # characters on standard error
MOST_PEAK = 1500.0  # MB of memory in use at any time
PLACES = re.compile(r"line \d+|\n  \S+: |: .+", re.DOTALL)


class TooLong(BaseException):
    """A command has had its time; no code may catch it."""


class _Screen(io.StringIO):
    """A stream that says it is a terminal, so that nothing is filtered out on the way to it."""

    def isatty(self) -> bool:
        return True

    def emptied(self) -> _Screen:
        """The same stream without what was written to it."""
        self.seek(0)
        self.truncate()
        return self


#: the same two for all commands: click remembers every stream that it has ever written to, and with it what stands there
SCREENS = (_Screen(), _Screen())


@dataclass
class Said:
    """What a command left behind; finds : what was wrong with that."""

    words: tuple[str, ...]
    status: int | None
    out: str
    err: str
    finds: list[str] = field(default_factory=list)


@contextlib.contextmanager
def limited(cpu: float = MOST_CPU, wait: float = MOST_WAIT) -> Iterator[None]:
    """TooLong is raised where the block takes more CPU, or waits longer without any: a busy machine is no fault of it."""
    used = time.process_time()

    def stop(number: int, _: FrameType | None) -> None:
        nonlocal used
        now = time.process_time()
        if number == signal.SIGPROF:
            raise TooLong(f"over {cpu:g} s of CPU")
        if now - used < IDLE:
            raise TooLong(f"over {wait:g} s of waiting")
        used = now

    before = [(number, signal.signal(number, stop)) for number in (signal.SIGPROF, signal.SIGALRM)]
    signal.setitimer(signal.ITIMER_PROF, cpu)
    signal.setitimer(signal.ITIMER_REAL, wait, wait)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0.0)
        signal.setitimer(signal.ITIMER_REAL, 0.0)
        for number, handler in before:
            signal.signal(number, handler)


def peak() -> float:
    """The most memory that this process has had in use [MB]; not ru_maxrss, which a child inherits from its parent."""
    status = Path("/proc/self/status").read_text(encoding="ascii")
    return float(status.split("VmHWM:")[1].split()[0]) / 1024.0


def guarded(work: Callable[[], Any], finds: list[str], allowed: tuple[type[BaseException], ...] = ()) -> Any:
    """What some work gives; exceptions that are not allowed, RuntimeWarnings and too long or too large are put to ``finds``."""
    before = peak()
    answer = None
    with warnings.catch_warnings(record=True) as told:
        warnings.simplefilter("always")
        try:
            with limited():
                answer = work()
        except TooLong as wrong:
            finds.append(f"too long: {wrong}\n{''.join(traceback.format_exc(limit=-6))}")
        except allowed as wrong:
            answer = wrong
        except BaseException as wrong:
            if isinstance(wrong, KeyboardInterrupt):
                raise
            finds.append(f"exception: {traceback.format_exc(limit=-12)}")
    for warning in told:
        if issubclass(warning.category, (RuntimeWarning, ResourceWarning, DeprecationWarning, FutureWarning)):
            finds.append(f"{warning.category.__name__}: {warning.message} ({warning.filename}:{warning.lineno})")
            break
    if peak() > max(MOST_PEAK, before):
        finds.append(f"memory: {peak():.0f} MB, {before:.0f} MB before")
    return answer


def call(words: tuple[str, ...], names: tuple[str, ...]) -> Said:
    """``thermokit WORDS`` in this process; names : a message of status 2 must hold one of these."""
    import thermokit.cli
    import thermokit.cli.progress

    thermokit.cli.progress.AFTER = math.inf  # no bar, though the streams say that they are a terminal
    said = Said(words, None, "", "")
    out, err = (screen.emptied() for screen in SCREENS)

    def work() -> Any:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            thermokit.cli.main(list(words))

    left = guarded(work, said.finds, (SystemExit,))
    said.out, said.err = out.getvalue(), err.getvalue()
    if isinstance(left, SystemExit):
        said.status = left.code if isinstance(left.code, int) else 0
        said.finds += list(_faults(said, names))
    return said


def _faults(said: Said, names: tuple[str, ...]) -> Iterator[str]:
    """What is wrong with what a command that ended by itself has said."""
    both = said.out + said.err
    if said.status not in (0, 1, 2):
        yield f"exit status {said.status}"
    if "Traceback (most recent call last)" in both:
        yield "a traceback is printed"
    if len(said.err) > MOST_MESSAGE:
        yield f"a message of {len(said.err)} characters"
    if (
        strange := next((c for c in both if not c.isprintable() and c not in "\n\r\t\xa0" and not c.isspace()), None)
    ) is not None:
        yield f"a control character is printed: {strange!r}"
    if said.status == 2 and not (any(Path(name).stem in said.err for name in names) and PLACES.search(said.err)):
        yield f"a message that names no file or no place: {said.err[:300]!r}"
    if said.status == 1 and not both.strip():
        yield "exit status 1 without a word"
    if "--json" in said.words and said.status in (0, 1) and said.out.strip():
        yield from _not_json(said.out)


def _not_json(text: str) -> Iterator[str]:
    def refuse(word: str) -> None:
        raise ValueError(f"{word} in JSON")

    try:
        json.loads(text, parse_constant=refuse)
    except ValueError as wrong:
        yield f"output is no JSON: {wrong}"


def settled(file: Path) -> list[str]:
    """Whether a case that was accepted is whole: written and read again it is the same, and all its numbers are finite."""
    from thermokit.case import load_case, numeric_paths, parse_case, resolved_text

    finds: list[str] = []

    def work() -> None:
        case = load_case(file)
        if parse_case(resolved_text(case), str(file)) != case:
            finds.append("the case written and read again is another")
        wrong = [path for path, (number, _) in numeric_paths(case).items() if not math.isfinite(number)]
        if wrong:
            finds.append(f"not finite: {', '.join(wrong)}")

    guarded(work, finds)
    return finds
