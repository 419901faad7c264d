"""Trials are taken once each, in order, whatever happens to the workers."""

from __future__ import annotations

import importlib
import json
from pathlib import Path
from typing import Any, cast

import pytest

from rigproof.campaign.engine import Crew
from rigproof.campaign.results import Results
from rigproof.campaign.trial import Result, Trial
from rigproof.errors import UsageError

HERE = str(Path(__file__).parent)
TRIALS = [Trial(("thin-wall=5 %",), seed) for seed in range(12)]


def rig(folder: Path) -> Path:
    for name in ("rig.yaml", "acceptance.yaml", "twin.yaml"):
        (folder / name).write_text(f"{name}\n", "utf-8")
    return folder


@pytest.fixture
def hands(monkeypatch: pytest.MonkeyPatch) -> Any:
    """The module `hands`, under a name that other processes can import."""
    monkeypatch.syspath_prepend(HERE)
    return importlib.import_module("hands")


def nothing(done: int, of: int) -> None:
    pass


def test_the_file_is_the_same_whoever_works(hands: Any, tmp_path: Path) -> None:
    folder = rig(tmp_path)
    files = []
    for workers in (1, 2, 3):
        file = tmp_path / f"{workers}.jsonl"
        with Crew(folder, workers, hands.one) as crew:
            assert crew.take(TRIALS, Results(folder, file), nothing) == [hands.result(trial) for trial in TRIALS]
        files.append(file.read_bytes())
    assert files[0] == files[1] == files[2]


def test_a_killed_worker_loses_nothing(hands: Any, tmp_path: Path) -> None:
    folder, told = rig(tmp_path), []
    with Crew(folder, 2, hands.dies_once) as crew:
        found = crew.take(TRIALS, Results(folder, tmp_path / "t.jsonl"), lambda done, of: told.append((done, of)))
    assert (folder / "died").exists()
    assert found == [hands.result(trial) for trial in TRIALS]
    assert told == [(n, 12) for n in range(1, 13)]


def test_workers_that_always_die_are_named(hands: Any, tmp_path: Path) -> None:
    with Crew(rig(tmp_path), 2, hands.dies) as crew, pytest.raises(UsageError, match="workers end again and again"):
        crew.take(TRIALS, Results(tmp_path), nothing)


def test_it_goes_on_where_it_was_left(hands: Any, tmp_path: Path) -> None:
    folder, file, taken = rig(tmp_path), tmp_path / "t.jsonl", []

    def counting(_: Path, trial: Trial) -> Result:
        taken.append(trial.seed)
        if len(taken) == 5:
            raise KeyboardInterrupt
        return cast(Result, hands.result(trial))

    with Crew(folder, 1, counting) as crew:
        with pytest.raises(KeyboardInterrupt):
            crew.take(TRIALS, Results(folder, file), nothing)
        found = crew.take(TRIALS, Results(folder, file), nothing)
    assert taken == [0, 1, 2, 3, 4, *range(4, 12)]
    assert found == [hands.result(trial) for trial in TRIALS]
    assert list(Results(folder, file)) == found


def test_a_torn_last_line_is_taken_again(hands: Any, tmp_path: Path) -> None:
    folder, file = rig(tmp_path), tmp_path / "t.jsonl"
    with Crew(folder, 1, hands.one) as crew:
        crew.take(TRIALS, Results(folder, file), nothing)
        whole = file.read_bytes()
        file.write_bytes(whole[:-20])
        results = Results(folder, file)
        assert TRIALS[-1] not in results
        crew.take(TRIALS, results, nothing)
    assert file.read_bytes() == whole


def test_results_of_other_documents_are_refused(tmp_path: Path) -> None:
    folder, file = rig(tmp_path), tmp_path / "t.jsonl"
    Results(folder, file)
    (folder / "acceptance.yaml").write_text("changed", "utf-8")
    with pytest.raises(UsageError, match="holds trials of other documents"):
        Results(folder, file)


@pytest.mark.parametrize("text", ["", "no json\n", "[1]\n", '{"format": "x"}\n'])
def test_a_file_that_is_none_of_ours(tmp_path: Path, text: str) -> None:
    file = tmp_path / "t.jsonl"
    file.write_text(text, "utf-8")
    with pytest.raises(UsageError, match=r"t\.jsonl: "):
        Results(rig(tmp_path), file)


def test_one_line_a_trial(hands: Any, tmp_path: Path) -> None:
    folder, file = rig(tmp_path), tmp_path / "t.jsonl"
    with Crew(folder, 1, hands.one) as crew:
        crew.take(TRIALS[:2], Results(folder, file), nothing)
    head, *lines = map(json.loads, file.read_text("utf-8").splitlines())
    assert head["format"] == "rigproof: campaign/1"
    assert [line["trial"]["seed"] for line in lines] == [0, 1]
    assert lines[1]["caught"][0]["name"] == "shunt reading"
