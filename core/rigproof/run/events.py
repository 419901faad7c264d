"""What `rigproof run --json` prints: one object a line, in the order in which things happen.

Numbers stand in the base unit that is named beside them. Times are seconds of the run's own clock since its journal
began. A program should ignore events and keys that it does not know: later versions may add some.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from rigproof.verdict.record import Finding, Record, Verdict

FORMAT = "rigproof: event/1"


class RunBegun(Record):
    """The first line but for remarks, unless the run is refused: an `error` then."""

    event: Literal["run"] = "run"
    format: Literal["rigproof: event/1"] = "rigproof: event/1"
    rig: str
    procedure: str
    simulated: bool
    replayed: bool
    part_serial_number: str = Field("", description="as in rig.yaml; empty: not stated")
    part_drawing: str = Field("", description="as in rig.yaml; empty: not stated")
    site: str = Field("", description="as in rig.yaml; empty: not stated")
    operator: str = Field("", description="who takes the run; empty: not named")
    record: str = Field(description="folder of journal.jsonl and verdict.json")
    steps: tuple[str, ...] = Field(description="their kinds, in order")
    cautions: tuple[str, ...] = Field(description="what people must mind")


class StepBegun(Record):
    """A step begins."""

    event: Literal["step"] = "step"
    step: int = Field(description="counts from 1")
    of: int
    step_kind: str


class Remark(Record):
    """Something happens, in a technician's words."""

    event: Literal["remark"] = "remark"
    text: str


class Stage(Record):
    """The rig begins to wait or to move."""

    event: Literal["stage"] = "stage"
    text: str
    at_s: float
    left_s: float = Field(description="how long it will take")


class ChannelLook(Record):
    """What a channel reads."""

    channel: str
    value: float | None = Field(description="null: overload, open circuit, above the range")
    unit: str
    shown: str = Field(description="for people, with their unit")
    at_s: float
    expected: float | None = Field(description="by the part model at the present load; of a gauge by its packet")
    U: float | None = Field(description="of reading less expected, at the coverage of the procedure")
    target: float | None = Field(description="of a source's channel: the load it was told to reach")


class Look(Record):
    """A look at the rig: one in each stage, more at a bounded rate of real time. The journal has every reading."""

    event: Literal["reading"] = "reading"
    text: str
    channels: tuple[ChannelLook, ...]


class Judged(Record):
    """One check, short; the verdict has it with its budget."""

    step: int
    step_kind: str
    name: str
    subject: str
    at: str
    finding: Finding
    measured: float | None
    u: float
    unit: str


class ChecksJudged(Record):
    """A step was judged."""

    event: Literal["checks"] = "checks"
    checks: tuple[Judged, ...]


class Alarm(Record):
    """Something people must see now; standard error has it too."""

    event: Literal["alarm"] = "alarm"
    text: str


class Lowering(Record):
    """A source was told to go to its safe state and has not been seen there yet."""

    event: Literal["lowering"] = "lowering"
    source: str
    load: float | None
    unit: str
    text: str


class SourceSafe(Record):
    """A source was seen in its safe state, and the load gone. Where it is not, that is an `alarm`."""

    event: Literal["safe"] = "safe"
    source: str
    text: str


class VerdictGiven(Record):
    """The last line of a run that was judged: the same object as in verdict.json."""

    event: Literal["verdict"] = "verdict"
    exit_code: int
    verdict: Verdict


class Wrong(Record):
    """One fault of a document or of the command."""

    place: str = Field(description="file, line and key; `command line`, with the option where one is meant; or empty")
    value: str = Field(description="what stands there; empty where `rule` says all")
    rule: str
    remedy: str = Field(description="empty where `rule` says all")


class Failure(Record):
    """The last line where there is no verdict; standard error has it in words."""

    event: Literal["error"] = "error"
    exit_code: int
    faults: tuple[Wrong, ...]


Event = Annotated[
    RunBegun
    | StepBegun
    | Remark
    | Stage
    | Look
    | ChecksJudged
    | Alarm
    | Lowering
    | SourceSafe
    | VerdictGiven
    | Failure,
    Field(discriminator="event"),
]
