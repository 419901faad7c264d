"""Trials are taken once each, in order, whatever happens to the workers."""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from rigproof.campaign.crew import Crew, Job, local
from rigproof.campaign.engine import Engine
from rigproof.campaign.results import FILE, Results
from rigproof.campaign.trial import Result, Trial
from rigproof.errors import Stopped, UsageError

TRIALS = [Trial(("thin-wall=5 %",), seed) for seed in range(24)]
HERE = Crew(lambda: ThreadPoolExecutor(1), 1)
Taking = Callable[..., list[Result]]


@pytest.fixture
def taking(documents: dict[str, str], listener: Any) -> Taking:
    def take(folder: Path, crew: Crew, job: Callable[[Trial], Result], trials: list[Trial] = TRIALS) -> list[Result]:
        with Results(folder, documents) as results, Engine(results, crew, job, listener) as engine:
            return engine.take(trials)

    return take


def test_the_file_is_the_same_whoever_works(hands: Any, taking: Taking, tmp_path: Path) -> None:
    for name, crew in (("here", HERE), ("one", local(1)), ("three", local(3))):
        assert taking(tmp_path / name, crew, hands.result) == [hands.result(trial) for trial in TRIALS]
    here, one, three = ((tmp_path / name / FILE).read_bytes() for name in ("here", "one", "three"))
    assert here == one == three


def test_what_is_there_is_not_taken_again(hands: Any, taking: Taking, tmp_path: Path, listener: Any) -> None:
    taking(tmp_path / "out", HERE, hands.result, TRIALS[:5])
    taken: list[int] = []

    def job(trial: Trial) -> Result:
        taken.append(trial.seed)
        return hands.result(trial)  # type: ignore[no-any-return]

    listener.counts.clear()
    assert len(taking(tmp_path / "out", HERE, job, TRIALS[:8])) == 8
    assert taken == [5, 6, 7]
    assert listener.counts == [(6, 8), (7, 8), (8, 8)]
    assert listener.left_s[-1] == 0.0


def test_a_worker_that_is_killed_costs_nothing_but_time(
    hands: Any, taking: Taking, tmp_path: Path, listener: Any
) -> None:
    taking(tmp_path / "whole", HERE, hands.result)
    assert taking(tmp_path / "out", local(2), hands.DiesOnce(tmp_path)) == [hands.result(trial) for trial in TRIALS]
    assert (tmp_path / "died").exists()
    assert "a worker died; its runs are taken again" in listener.said
    assert (tmp_path / "out" / FILE).read_bytes() == (tmp_path / "whole" / FILE).read_bytes()


def test_workers_that_always_die_end_it(hands: Any, taking: Taking, tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=r"workers died 5 times in a row, the last time at .*seed 0"):
        taking(tmp_path / "out", local(1), hands.dies)


def test_ctrl_c_keeps_what_is_done_and_goes_on(hands: Any, taking: Taking, tmp_path: Path) -> None:
    taking(tmp_path / "whole", HERE, hands.result)

    def interrupted(trial: Trial) -> Result:
        if trial.seed == 7:
            os.kill(os.getpid(), signal.SIGINT)
            threading.Event().wait(0.5)  # the campaign has heard it by then
        return hands.result(trial)  # type: ignore[no-any-return]

    old = signal.signal(signal.SIGINT, signal.default_int_handler)  # a background job ignores Ctrl-C
    try:
        with pytest.raises(Stopped, match=r"stopped by the operator \(Ctrl-C\); \d+ runs are kept in .*goes on"):
            taking(tmp_path / "out", HERE, interrupted)
    finally:
        signal.signal(signal.SIGINT, old)
    part, whole = ((tmp_path / name / FILE).read_bytes() for name in ("out", "whole"))
    assert whole.startswith(part)
    assert 8 < part.count(b"\n") < 13
    taking(tmp_path / "out", HERE, hands.result)
    assert (tmp_path / "out" / FILE).read_bytes() == whole


def test_a_trial_that_cannot_be_names_its_command(taking: Taking, spool_folder: Path, tmp_path: Path) -> None:
    from rigproof.campaign.results import digests

    job = Job(spool_folder, tuple(digests(spool_folder).items()))
    with pytest.raises(UsageError, match=r"--flaw 'thin-wal': .*no flaw is called 'thin-wal'"):
        taking(tmp_path / "out", local(1), job, [Trial(("thin-wal",), 0)])


def test_a_worker_with_other_documents_refuses(spool_folder: Path) -> None:
    with pytest.raises(
        UsageError, match=r"^a worker of this machine: has other documents than .*; put the campaign's folder there"
    ):
        Job(spool_folder, (("rig.yaml", "0" * 64),))(Trial((), 0))


def test_a_worker_takes_what_the_command_takes() -> None:
    """On a rig whose run is short, in another process."""
    from rigproof.campaign.results import digests
    from rigproof.campaign.trial import take

    beam = Path(__file__).parents[3] / "rigs" / "beam"
    trial = Trial(("loose-gauge=10 %",), 3)
    job = Job(beam, tuple(digests(beam).items()))
    with local(1).make() as executor:
        assert executor.submit(job, trial).result() == take(beam, trial)
