"""The results file: what is in it is known, what is torn is taken again, what is foreign is refused."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from rigproof.campaign.results import FILE, Results, digests
from rigproof.campaign.trial import Trial
from rigproof.errors import UsageError

TRIALS = [Trial(("thin-wall=5 %",), seed) for seed in range(4)]


@pytest.fixture
def written(hands: Any, tmp_path: Path, documents: dict[str, str]) -> Path:
    with Results(tmp_path / "out", documents) as results:
        for trial in TRIALS:
            results.append(hands.result(trial))
    return tmp_path / "out"


def test_it_is_read_back(hands: Any, written: Path, documents: dict[str, str]) -> None:
    with Results(written, documents) as results:
        assert [results[trial] for trial in TRIALS] == [hands.result(trial) for trial in TRIALS]
        assert Trial((), 0) not in results


def test_a_line_for_each_trial_under_the_documents(written: Path, documents: dict[str, str]) -> None:
    head, *lines = [json.loads(line) for line in (written / FILE).read_text("utf-8").splitlines()]
    assert head["documents"] == documents
    assert [line["trial"]["seed"] for line in lines] == [0, 1, 2, 3]


@pytest.mark.parametrize("cut", [1, 10, 60])
def test_a_torn_line_goes_and_the_file_becomes_the_same(
    hands: Any, written: Path, documents: dict[str, str], cut: int
) -> None:
    whole = (written / FILE).read_bytes()
    (written / FILE).write_bytes(whole[:-cut])
    with Results(written, documents) as results:
        assert [trial in results for trial in TRIALS] == [True, True, True, False]
        results.append(hands.result(TRIALS[3]))
    assert (written / FILE).read_bytes() == whole


def test_other_documents_are_refused_by_name(written: Path, tmp_path: Path) -> None:
    (tmp_path / "twin.yaml").write_text("another\n", "utf-8")
    with pytest.raises(UsageError, match=r"results of another twin\.yaml \(SHA-256 differs\); choose another --out"):
        Results(written, digests(tmp_path))


def test_another_version_is_refused(written: Path, documents: dict[str, str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("rigproof.campaign.results.__version__", "99")
    with pytest.raises(UsageError, match="results of rigproof 0"):
        Results(written, documents)


@pytest.mark.parametrize(
    ("line", "said"), [(0, "is no file of results"), (2, r"trials\.jsonl:3: is no result of a trial")]
)
def test_a_foreign_line_is_refused(written: Path, documents: dict[str, str], line: int, said: str) -> None:
    lines = (written / FILE).read_text("utf-8").splitlines(keepends=True)
    lines[line] = '{"a": 1}\n'
    (written / FILE).write_text("".join(lines), "utf-8")
    with pytest.raises(UsageError, match=said):
        Results(written, documents)


def test_two_campaigns_do_not_write_one_file(written: Path, documents: dict[str, str]) -> None:
    with Results(written, documents), pytest.raises(UsageError, match="another campaign writes to it"):
        Results(written, documents)


def test_a_rig_without_a_twin(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=r"rig\.yaml: cannot be read"):
        digests(tmp_path / "nowhere")


def test_a_folder_that_cannot_be(tmp_path: Path, documents: dict[str, str]) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(UsageError, match="choose another --out"):
        Results(tmp_path / "file" / "out", documents)
