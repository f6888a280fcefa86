"""Case and logger files made wrong in every way (``python -m validation.siege fuzz`` makes a hundred thousand): a share of them."""

from __future__ import annotations

import json
import os
from pathlib import Path
from random import Random

import pytest

from validation.siege import __main__ as command
from validation.siege.fuzz import growth, siege
from validation.siege.judge import Said, _faults, call, guarded, limited
from validation.siege.mutate_bytes import mutated_bytes
from validation.siege.mutate_tables import places, text_of
from validation.siege.seeds import FITTED, seeds
from validation.siege.trying import make

FILES = 400


def test_a_share_of_the_files_is_read_or_refused_plainly() -> None:
    """Nothing but status 0, 1 and 2, each with its message; see ``validation.siege.judge`` for all that counts as a find."""
    state = siege(FILES, seed=7, run_share=0.0, quiet=True)
    assert sum(state["counts"].values()) == FILES
    assert not state["finds"], json.dumps(state["finds"][:5], indent=1)
    # it is no siege if nothing gets in, nor if nothing is refused
    for kind in ("accepted", "refused"):
        assert sum(count for name, count in state["counts"].items() if name.endswith(kind)) > FILES / 10


@pytest.mark.long
def test_right_files_are_solved() -> None:
    state = siege(300, seed=8, run_share=1.0, quiet=True)
    assert sum(count for name, count in state["counts"].items() if name.endswith("run")) >= 5
    assert not state["finds"], json.dumps(state["finds"][:5], indent=1)


def test_a_file_is_the_same_each_time() -> None:
    for number in range(60):
        assert make(1, number)[0].data == make(1, number)[0].data
    assert len({make(1, number)[0].data for number in range(60)}) > 55


def test_every_seed_is_written_as_it_was_read() -> None:
    """What the mutators start from is right, so that what they find is of their making."""
    import tomllib

    for seed in seeds():
        assert tomllib.loads(text_of(seed.raw)) == seed.raw
        assert places(seed.raw) and seed.leaves


def test_bytes_are_changed() -> None:
    data = FITTED.encode()
    assert sum(mutated_bytes(data, Random(i)) != data for i in range(100)) > 90


class TestTheJudge:
    """Each thing that is to be found is shown to it once."""

    @staticmethod
    def finds(status: int, out: str = "", err: str = "", words: tuple[str, ...] = ("check",)) -> list[str]:
        return list(_faults(Said(words, status, out, err), ("case.toml",)))

    def test_what_is_allowed(self) -> None:
        assert not self.finds(0, "fine")
        assert not self.finds(1, "", "no setting meets every limit")
        assert not self.finds(2, "", "case.toml: 1 mistake\n  line 3, body.start: missing")
        assert not self.finds(0, '{"a": 1}', words=("check", "--json"))

    @pytest.mark.parametrize(
        ("said", "word"),
        [
            ((3, "", "x"), "status"),
            ((130, "", "x"), "status"),
            ((0, "Traceback (most recent call last)", ""), "traceback"),
            ((2, "", "case.toml: " + "x" * 30_000), "characters"),
            ((0, "\x1b[31m", ""), "control"),
            ((0, "\x9b", ""), "control"),
            ((0, "\u202e", ""), "control"),
            ((2, "", "wrong"), "no file"),
            ((1, "", ""), "without a word"),
            ((0, '{"a": NaN}', "", ("run", "--json")), "JSON"),
            ((1, '{"a": -Infinity}', "", ("run", "--json")), "JSON"),
            ((0, '{"a": 1', "", ("run", "--json")), "JSON"),
        ],
    )
    def test_what_is_not(self, said: tuple[int, str, str], word: str) -> None:
        assert any(word in find for find in self.finds(*said))

    def test_exceptions_warnings_and_time(self) -> None:
        import warnings

        def slow() -> None:
            while True:
                pass

        finds: list[str] = []
        guarded(lambda: 1 / 0, finds)
        assert "ZeroDivisionError" in finds.pop()
        guarded(lambda: warnings.warn("divide by zero", RuntimeWarning), finds)
        assert "RuntimeWarning" in finds.pop()
        with pytest.raises(BaseException, match=r"over 0\.05 s of CPU"), limited(0.05, 60.0):
            slow()
        with pytest.raises(BaseException, match=r"over 0\.05 s of waiting"), limited(60.0, 0.05):
            os.read(os.pipe()[0], 1)  # waits for what never comes
        assert guarded(lambda: 5, finds) == 5 and not finds

    def test_growth_of_memory(self) -> None:
        assert growth([(1000, 90.0), (2000, 100.0), (3000, 110.0), (9000, 190.0)]) == 90.0
        assert growth([(1000, 90.0)]) == 0.0


def test_it_goes_on_where_it_was_stopped(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    whole = siege(12, seed=3, run_share=0.0, quiet=True)
    siege(5, seed=3, run_share=0.0, output=tmp_path, quiet=True)
    assert command.main(["fuzz", "--files", "12", "--seed", "3", "--run-share", "0", "-o", str(tmp_path)]) == 0
    state = json.loads((tmp_path / "state.json").read_text(encoding="utf-8"))
    assert state["next"] == 12 and state["counts"] == dict(whole["counts"])
    assert "12 files" in capsys.readouterr().out


def test_a_find_is_kept_with_its_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """With a fault put into the reading of cases the file and the traceback are kept."""

    def broken(*_: object) -> None:
        raise IndexError("put in")

    monkeypatch.setattr("validation.siege.fuzz.furnish", lambda folder: None)
    monkeypatch.setattr("thermokit.case.reading.noted", broken)
    state = siege(6, seed=3, run_share=0.0, output=tmp_path, quiet=True)
    assert state["finds"] and "IndexError: put in" in state["finds"][0]["what"]
    number = state["finds"][0]["number"]
    assert (tmp_path / f"find_{number:06}_case.toml").read_bytes() == make(3, number)[0].data
    assert "IndexError: put in" in (tmp_path / f"find_{number:06}.txt").read_text(encoding="utf-8")


def test_the_command_is_called_as_a_user_calls_it(tmp_path: Path) -> None:
    file = tmp_path / "fitted.toml"
    file.write_text(FITTED, encoding="utf-8")
    said = call(("check", str(file)), ("fitted.toml",))
    assert said.status == 0 and not said.finds and 'title = "A wall beside a log"' in said.out
