"""Step `proof`: raise the load in stages to the proof load, hold it shut in, lower it, and see what stays behind."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated, ClassVar

from pydantic import AfterValidator, Field

from rigproof.documents.rig import Rig
from rigproof.documents.validation import wrong
from rigproof.quantities import Quantity, Within, did_you_mean, parse, quantity, show, within
from rigproof.uncertainty import Rule
from rigproof.verdict.record import Check, Finding

from . import base
from .checks import Subject
from .guard import missing
from .hints import LOAD, RESPONSE, ROSETTE, Hints
from .hold_checks import hold_checks
from .load_checks import load_zero_checks
from .proof_checks import ProofReadings, set_checks, stage_checks, stress_checks
from .record import StepRecord

if TYPE_CHECKING:
    from rigproof.run.live import LiveRig


_STAGES = "write stages such as [50 %, 70 %, 85 %, 100 %]"


def _rising(stages: tuple[Quantity, ...]) -> tuple[Quantity, ...]:
    for index, (before, stage) in enumerate(zip((parse("0 %", "ratio"), *stages), stages, strict=False)):
        if not before.value < stage.value <= 1.0:
            said = f"{stage.text} after {before.text}: stages rise to 100 % of the proof load"
            raise wrong((index,), said, _STAGES, stage.text)
    if stages[-1].value != 1.0:
        said = f"{stages[-1].text} is the last stage, and the last one is 100 % of the proof load"
        raise wrong((len(stages) - 1,), said, _STAGES, stages[-1].text)
    return stages


class Proof(base.Step):
    """Staged rise, checks at each stage before the next, hold with decay, lowering, permanent set.

    EN 13480-5:2002, 9.3.2.2 (seen) asks for about 50 %, then steps of about a tenth, and a hold of 30 min; the default
    has fewer stages and 10 min, so that a procedure by that standard states its own. The proof load
    itself comes from the design code (PED Annex I, 7.4: 1.43 PS and more). The rise goes on only where every
    check of the stage accepts. The source aims `margin` above the proof load, so that the lowest load of the hold
    still proves it. This step is no protective device: a relief device and a barrier are needed.
    """

    kind: ClassVar[str] = "proof"
    loads: ClassVar[bool] = True
    admits: ClassVar[tuple[Finding, ...]] = ("accept",)
    shows: ClassVar[tuple[str, ...]] = (base.RESPONSE_TO_LOAD, base.BEARS)
    hints: ClassVar[Hints] = {
        **RESPONSE,
        **ROSETTE,
        **LOAD,
        "von Mises stress over yield": "wall, material and load of the part before anything else: load no further",
        "proportionality": "a part that may start to yield: load no further before it was looked at; then the bond, "
        "the amplifier's range",
        "permanent set": "a part that may have yielded: look before it is loaded again; then a bond that creeps, "
        "drift, load still on",
        "stages reached": "why the rise was stopped, in the step's own line",
        "lowest load of the hold": "a source that stops short or does not hold; then a leak",
        "decay over the hold": "a leak at joints, valve or hose; liquid that cools, air in the part, a part still "
        "taking up the load",
    }

    source: str
    """The source that loads the part."""
    to: base.Load
    """The proof load: what the lowest reading of the hold must show."""
    channels: base.Channels = (base.ALL_STRAIN,)
    """The strain channels that are judged."""
    stages: Annotated[
        tuple[Annotated[Quantity, quantity("ratio")], ...], Field(min_length=1), AfterValidator(_rising)
    ] = Field(default=("50 %", "70 %", "85 %", "100 %"), validate_default=True)
    """Shares of the proof load at which the rise halts and is judged, rising to 100 %."""
    margin: Annotated[Quantity, quantity("ratio", at_least="0 %", at_most="10 %")] = Field(
        default="1 %", validate_default=True
    )
    """How far above the proof load the source aims, so that the lowest reading less its uncertainty shows it."""
    rate: base.LoadRate | None = None
    """Rate of the load; left out, the source's own."""
    dwell: Annotated[Quantity, quantity("time")] = Field(default="30 s", validate_default=True)
    """How long a stage stands before it is read."""
    hold: Annotated[Quantity, quantity("time", above="0 s", because="without a hold nothing is proved")] = Field(
        default="10 min", validate_default=True
    )
    """How long the part is shut in at the proof load."""
    temperature: str = ""
    """Channel that takes the filling's warmth out of the decay; left out, the rig's first temperature channel."""
    rest: Annotated[Quantity, quantity("time")] = Field(default="60 s", validate_default=True)
    """How long the part rests without load before a zero is read."""
    readings: Annotated[int, Field(ge=2, le=500)] = 50
    """Readings at each stage, whose mean counts."""
    at_most: Annotated[Quantity, quantity("ratio", at_least="100 %", at_most="150 %")] = Field(
        default="105 %", validate_default=True
    )
    """Highest load that is accepted, as a share of the proof load."""
    load_zero: Annotated[Within, within("ratio")] = Field(default="within 0.5 %", validate_default=True)
    """Load that may be read where the strains take their zero, as a share of the proof load."""
    proportionality: Annotated[Within, within("ratio")] = Field(default="within 5 %", validate_default=True)
    """How far the strain per load at a stage may be from that at the first."""
    stress: Annotated[
        Quantity, quantity("ratio", above="0 %", at_most="100 %", because="beyond it the part yields")
    ] = Field(default="90 %", validate_default=True)
    """Highest von Mises stress at a rosette, as a share of the yield strength; 90 % is the share of ASME B31.3,
    345.5.4, for pneumatic tests, taken for every test as for the part itself."""
    decay: Annotated[Within, within("ratio")] = Field(default="within 0.5 %", validate_default=True)
    """How much of the load may be lost over the hold, temperature taken out."""
    permanent_set: Annotated[Within, within("ratio")] = Field(default="within 1 %", validate_default=True)
    """Strain that may stay after lowering, as a share of the strain at the top."""

    @property
    def slowest_leak(self) -> float:
        """The least fall of load (base unit per second) that breaks the limit of decay over the hold."""
        return abs(self.to.value) * self.decay.limit / self.hold.value

    @property
    def aim(self) -> float:
        """The load the source is told to reach, base unit."""
        return self.to.value * (1 + self.margin.value)

    def problems(self, rig: Rig) -> Sequence[tuple[str, str, str]]:
        """Channels, source, top load and temperature channel must fit the rig."""
        found = [
            *base.channel_problems(rig, self.channels),
            *base.source_problems(rig, self.source, self.to, self.aim, self.rate),
        ]
        known = [name for name, channel in rig.channels.items() if channel.measures == "temperature"]
        if self.temperature and self.temperature not in known:
            hint = did_you_mean(self.temperature, known)
            found.append(("temperature", f"{self.temperature!r} is no temperature channel of the rig", hint))
        if self.source in rig.sources and not base.isolates(rig, self.source):
            what = f"{self.source!r} has no valve to shut the part off from its source for the hold"
            found.append(("source", what, "take a source with one, or say in its settings how it is shut"))
        return found

    def remarks(self) -> Sequence[str]:
        """Why the source goes above the proof load."""
        if not self.margin.value:
            return ()
        aim = show(self.aim, self.to.kind, 4)
        return (
            f"The source aims at {aim}, {self.margin.text} above the proof load (`margin:`), so that the lowest "
            f"reading of the hold less its uncertainty still shows {self.to.text}.",
        )

    def highest_load(self) -> float:
        """The top of the step, base unit."""
        return self.aim

    def acquire(self, live: LiveRig) -> None:
        """Zero, stages with their gate, hold, lowering, zero again."""
        names = base.strain_channels(live.rig, self.channels)
        live.wait(self.rest.value, "rest before the zero")
        self._read(live, "zero before")
        live.take_zero(names)
        if self._rise(live):
            self._hold(live)
        live.rise_to(self.source, 0.0, self._rate, "lowering")
        live.wait(self.rest.value, "rest after lowering")
        self._read(live, "zero after")

    @property
    def _rate(self) -> float | None:
        return self.rate.value if self.rate else None

    def _rise(self, live: LiveRig) -> bool:
        """All stages; False where a stage's checks did not all accept and the rise was stopped."""
        for number, stage in enumerate(self.stages, 1):
            text = f"stage {number} of {len(self.stages)}: {stage.text}"
            live.rise_to(self.source, self.aim * stage.value, self._rate, text)
            live.wait(self.dwell.value, "dwell")
            self._read(live, "stage", stage=number)
            found = self._stage(self._readings(live.rig, live.record()), live.rule, number)
            doubtful = [f"{check.name} of {check.subject}" for check in found if check.finding != "accept"]
            if doubtful:
                live.phase("rise stopped", stage=number, why=f"not accepted: {', '.join(doubtful)}")
                return False
        return True

    def _hold(self, live: LiveRig) -> None:
        live.isolate(self.source, True)
        live.wait(self.dwell.value, "settling, shut in")
        self._read(live, "hold start")
        live.wait(self.hold.value, "hold", label="hold", extra=self._temperatures(live.rig))
        self._read(live, "hold end")
        live.isolate(self.source, False)

    def _temperatures(self, rig: Rig) -> tuple[str, ...]:
        first = [name for name, channel in rig.channels.items() if channel.measures == "temperature"][:1]
        return (self.temperature,) if self.temperature else tuple(first)

    def _read(self, live: LiveRig, label: str, **tags: int | str) -> None:
        names = [*base.strain_channels(live.rig, self.channels), live.rig.sources[self.source].channel]
        live.read(label, names, count=self.readings, interval_s=0.02, **tags)
        if label.startswith("hold"):
            live.read(f"{label}, temperature", self._temperatures(live.rig), count=5, interval_s=0.2)

    def _readings(self, rig: Rig, record: StepRecord) -> ProofReadings:
        temperature = next(iter(self._temperatures(rig)), "")
        names = base.strain_channels(rig, self.channels)
        return ProofReadings(rig, record, names, rig.sources[self.source].channel, temperature, self.to)

    def judge(self, rig: Rig, rule: Rule, record: StepRecord) -> Sequence[Check]:
        """Each stage that was reached, the hold, the permanent set."""
        readings = self._readings(rig, record)
        zero = record.block("zero before")
        checks = load_zero_checks(rig, rule, record, readings.load, zero, self.to, self.stated("load_zero"))
        checks += self._stages_missing(readings)
        for number in range(1, len(readings.stages) + 1):
            checks += self._stage(readings, rule, number)
        checks += hold_checks(readings, rule, self)
        checks += set_checks(readings, rule, self.stated("permanent_set"))
        return checks

    def _stage(self, readings: ProofReadings, rule: Rule, number: int) -> list[Check]:
        """All checks of a stage: what decides whether the rise goes on."""
        return [
            *stage_checks(readings, rule, number, self.stated("proportionality")),
            *stress_checks(readings, rule, number, self.stress, self.origin("stress")),
        ]

    def _stages_missing(self, readings: ProofReadings) -> list[Check]:
        """One undecided check where a stage was not read, unless the rise was stopped before it."""
        stopped = [event["stage"] for event in readings.record.events("phase") if event["what"] == "rise stopped"]
        due = range(1, (stopped[0] if stopped else len(self.stages)) + 1)
        read = [block.tags["stage"] for block in readings.stages]
        if read == list(due):
            return []
        about = Subject("stages reached", readings.load, "number")
        return [missing(readings.record, about, f"stages 1 to {due[-1]} are due, read were {read}")]
