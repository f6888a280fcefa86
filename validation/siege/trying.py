"""What is tried with each file: reading and ``check`` of all, the commands that solve of a share of the cheap ones."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from random import Random

from thermokit.errors import DataError
from validation.siege.judge import Said, call, guarded, settled
from validation.siege.mutate_bytes import mutated_bytes
from validation.siege.mutate_logs import logged
from validation.siege.mutate_tables import mutated_table
from validation.siege.mutate_values import mutated_values
from validation.siege.seeds import CASES, FITTED, Seed, seeds

LOGS = 0.18  # share of the files that are measured ones


@dataclass(frozen=True)
class Made:
    """A made file: its number, name and bytes, how it was made, and the seed where it is a case."""

    number: int
    name: str
    data: bytes
    how: str
    seed: Seed | None = None


def make(seed: int, number: int) -> tuple[Made, Random]:
    """File of that number, always the same one, and what goes on choosing for it."""
    random = Random(f"{seed}:{number}")
    if random.random() < LOGS:
        name, data = logged(random)
        return Made(number, name, data, "log"), random
    base = random.choice(seeds())
    how = random.choice(("bytes", "tables", "tables", "values", "values", "few"))
    if how == "bytes":
        data = mutated_bytes(base.text.encode(), random)
    elif how == "tables":
        data = mutated_table(base.raw, random)
    else:
        data = mutated_values(base, random, few=how == "few")
    return Made(number, "case.toml", data, how, base), random


def furnish(folder: Path) -> None:
    """What stands beside the made files: the examples' own files, a result, and things that are no files."""
    import os

    for path in [*CASES.glob("*.csv"), *CASES.glob("*.dxf")]:
        shutil.copy(path, folder / path.name)
    (folder / "fitted.toml").write_text(FITTED, encoding="utf-8")
    wall = folder / "earlier.toml"
    wall.write_text(FITTED.split("[fit]")[0], encoding="utf-8")
    call(("run", str(wall)), ("earlier.toml",))
    result = (folder / "earlier.h5").read_bytes()
    (folder / "half.h5").write_bytes(result[: len(result) // 2])
    (folder / "broken.h5").write_bytes(b"\x89HDF\r\n\x1a\n" + b"\xff" * 4000)
    (folder / "empty").write_bytes(b"")
    (folder / "folder").mkdir(exist_ok=True)
    for name in ("fifo", "loop", "link_out"):
        (folder / name).unlink(missing_ok=True)
    os.mkfifo(folder / "fifo")
    (folder / "loop").symlink_to("loop")
    (folder / "link_out").symlink_to("/etc/passwd")


def attempt(made: Made, folder: Path, random: Random, run_share: float) -> tuple[str, list[Said]]:
    """(what became of the file: ``refused``, ``accepted``, ``run``; everything that was said with its finds)."""
    file = folder / made.name
    file.write_bytes(made.data)
    return _of_log(file, random, run_share) if made.seed is None else _of_case(made, file, random, run_share)


def _of_log(file: Path, random: Random, run_share: float) -> tuple[str, list[Said]]:
    """A measured file read as a log and as a calorimeter's run, then perhaps fitted to."""
    from thermokit.kinetics.dsc import Run, read_run
    from thermokit.logs.logger import Log, Reading, read_log
    from thermokit.logs.stamps import CLOCKS, DATES
    from thermokit.logs.table import NAMES

    said: list[Said] = []
    accepted = False
    readings = [Reading(time_unit=random.choice((None, "s")))]
    if random.random() < 0.25:
        readings.append(
            Reading(
                random.choice((*NAMES, None)), random.choice(("point", "comma", None)), random.choice((*DATES, None)),
                random.choice((*CLOCKS, None)), random.choice(("s", "ms", "min", "h", "day", None)),
                random.choice((None, None, "time", "T1")),
            )
        )  # fmt: skip
    for reading in readings:
        note = Said(("read_log", repr(reading)), None, "", "")
        log = guarded(partial(read_log, file, reading), note.finds, (DataError,))
        said.append(note)
        note.finds += _refusal(log, file)
        if isinstance(log, Log):
            accepted = True
            for i in range(min(len(log.names), 6)):
                channel = guarded(partial(log.channel, str(i + 1), "degC"), note.finds, (DataError,))
                note.finds += _refusal(channel, file)
    run = None
    if "dsc" in file.name or random.random() < 0.3:
        note = Said(("read_run",), None, "", "")
        run = guarded(lambda: read_run(file, "8 mg", random.choice((None, "10 K/min"))), note.finds, (DataError,))
        note.finds += _refusal(run, file)
        said.append(note)
    names = (file.name,)
    if not accepted and random.random() < 0.1:
        said.append(call(("fit", str(file.parent / "fitted.toml"), str(file), "--json"), (*names, "fitted.toml")))
    if accepted and random.random() < run_share:
        said.append(call(("fit", str(file.parent / "fitted.toml"), str(file), "--json"), (*names, "fitted.toml")))
    if isinstance(run, Run) and random.random() < run_share:
        said.append(
            call(("kinetics", "fit", str(file), "--form", "nth_order", *random.choice(((), ("--json",)))), names)
        )
    return ("accepted" if accepted or isinstance(run, Run) else "refused"), said


def _refusal(answer: object, file: Path) -> Iterator[str]:
    """What is wrong with the refusal of a file."""
    if isinstance(answer, DataError):
        if file.name not in str(answer):
            yield f"a message that names no file: {str(answer)[:300]!r}"
        if len(str(answer)) > 20_000:
            yield f"a message of {len(str(answer))} characters"


def _of_case(made: Made, file: Path, random: Random, run_share: float) -> tuple[str, list[Said]]:
    """A case checked, and where it is right perhaps taken through the other commands."""
    assert made.seed is not None
    name = str(file)
    names = (file.name,)
    check = call(("check", name, *random.choice(((), (), ("--json",), ("--paths",)))), names)
    said = [check]
    if check.status == 2:
        if random.random() < 0.01:
            other = random.choice(
                ("run", "dwell", "setting", "cost", "zones", "methods", "sweep", "tolerance", "verify", "fit")
            )
            said.append(call((other, name), names))
        return "refused", said
    if check.status != 0:
        return "refused", said
    if random.random() < 0.2:
        said.append(Said(("settled",), None, "", "", settled(file)))
    if not made.seed.quick or random.random() > run_share * (4.0 if made.how in ("values", "few") else 1.0):
        return "accepted", said
    said += list(_solved(file, names, random))
    return "run", said


def _solved(file: Path, names: tuple[str, ...], random: Random) -> Iterator[Said]:
    """The commands that solve, a few of them by chance."""
    name, result = str(file), str(file.with_suffix(".h5"))
    file.with_suffix(".h5").unlink(missing_ok=True)
    way = random.randrange(12)
    if way <= 6:
        yield call(("run", name, "--json") if random.random() < 0.7 else ("run", name), names)
        if file.with_suffix(".h5").exists():
            after: tuple[tuple[str, ...], ...] = (
                ("show", result, "--json"), ("show", result), ("show", result, "--csv", "-"),
                ("show", result, "--vtk", str(file.with_suffix(".vtk"))), ("setting", result), ("why", result),
            )  # fmt: skip
            yield call(random.choice(after), (*names, "case.h5", "case.vtk", "case.html"))
            if random.random() < 0.15:
                yield call(
                    ("plot", result, "--kind", random.choice(("history", "profile", "all"))), (*names, "case.h5")
                )
    elif way == 7:
        yield call(("dwell", name, "--json"), names)
    else:
        rest: tuple[tuple[str, ...], ...] = (
            ("setting", name), ("cost", name, "--json"), ("bottleneck", name, "--json"), ("compare", name, name),
            ("tolerance", name, "--draws", "4", "--json"), ("thermocouple", name, "--json"), ("scale", name, "--json"),
            ("fit", name, "--json"), ("zones", name, "--json"), ("methods", name, "--json"), ("sensitivity", name, "--json"),
        )  # fmt: skip
        yield call(random.choice(rest), (*names, "case.html"))
