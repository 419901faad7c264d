"""What a step kind is: its parameters in trade words, `acquire`, and a pure `judge`."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated, ClassVar

from pydantic import BeforeValidator, Field, WithJsonSchema

from rigproof.instruments import Loads
from rigproof.models import DocumentModel
from rigproof.quantities import Quantity, Within, did_you_mean, quantity, show
from rigproof.steps.checks import Stated
from rigproof.steps.foresee import Assumed, Foreseen, foreseen
from rigproof.steps.hints import Hints
from rigproof.steps.tasks import Task
from rigproof.verdict.record import Finding

if TYPE_CHECKING:
    from rigproof.documents.rig import Rig
    from rigproof.run.live import LiveRig
    from rigproof.steps.record import StepRecord
    from rigproof.uncertainty import Rule
    from rigproof.verdict.record import Check, WorkRecord

# What an acceptance of an installation has to show. A step kind names what it can see; a verdict lists what nobody
# showed. The last one is beyond the bundled steps: it stands here so that no verdict claims it in silence.
GAIN = "gain and wiring of the measuring chain"
RESPONSE_TO_LOAD = "response to load: bond, gauge factor, place and axis"
THERMAL_OUTPUT = "thermal output over the working temperatures"
BEARS = "the part bears the proof load"  # the part model says without what
ARMED = "interlocks: each trips when provoked, and the source obeys"  # where a step loads
ASPECTS = (
    "gauge resistance as on the packet",
    "insulation between gauge and part",
    "bridge balance and rest at no load",
    GAIN,
    RESPONSE_TO_LOAD,
    "zero return and repeatability under load cycles",
    BEARS,
    THERMAL_OUTPUT,
    "creep over hours under load",
)

ALL_STRAIN = "all strain"


def _channel_names(written: object) -> object:
    if written == ALL_STRAIN:
        return (ALL_STRAIN,)
    if isinstance(written, str):
        return (written,)
    return written


Channels = Annotated[
    tuple[str, ...],
    BeforeValidator(_channel_names),
    Field(min_length=1),
    WithJsonSchema(
        {
            "anyOf": [{"type": "string"}, {"type": "array", "items": {"type": "string"}}],
            "description": "a channel, a list of channels, or `all strain`",
        }
    ),
]


# A load as written, of whatever kind its unit says; `source_problems` holds it against the part.
Load = Annotated[Quantity, quantity("gauge pressure", "force", "torque")]
LoadRate = Annotated[Quantity, quantity("pressure rate", "force rate", "torque rate")]


class Step(DocumentModel, ABC):
    """One thing to be shown. A subclass is one file: its fields are the parameters in acceptance.yaml."""

    kind: ClassVar[str]  # the key in acceptance.yaml
    loads: ClassVar[bool] = False  # true: puts load on the part, so earlier rejects forbid it
    asks_a_person: ClassVar[bool] = False  # true: it cannot be taken where nobody answers, see `rigproof.people`
    by_packet: ClassVar[bool] = False  # true: judged against the documents alone, not the rig as the run found it
    admits: ClassVar[tuple[Finding, ...]] = (
        "accept",
        "undecided",
        "reject",
    )  # findings of earlier checks it may follow
    per_session: ClassVar[bool] = False  # true: what it shows ends with the session, so it is taken anew before a load
    shows: ClassVar[tuple[str, ...]] = ()  # of ASPECTS, or words of its own
    hints: ClassVar[Hints] = {}  # by the name of a check: what is looked at first where it does not accept

    def problems(self, rig: Rig) -> Sequence[tuple[str, str, str]]:  # noqa: ARG002  subclasses use it
        """What in the parameters does not fit the rig: (key as written, what is wrong, remedy).

        The key of an entry of a list is such as `channels[2]`, counted from 1.
        """
        return ()

    def follows(self, earlier: Sequence[Step]) -> Sequence[tuple[str, str, str]]:  # noqa: ARG002  subclasses use it
        """What in the parameters does not fit the steps before it, as `problems`."""
        return ()

    def assumes(self) -> Assumed:
        """What the step brings to a rehearsal on paper."""
        return Assumed()

    def foresee(self, rig: Rig, rule: Rule, record: StepRecord) -> Sequence[Foreseen]:
        """Its checks from the record of a rehearsal, in which a sound rig gives what it must without scatter."""
        return foreseen(self.judge(rig, rule, record))

    def reaches(self, rig: Rig) -> tuple[str, ...]:
        """The strain channels whose state the step shows; all of the rig where it has no `channels`."""
        return strain_channels(rig, getattr(self, "channels", (ALL_STRAIN,)))

    def rests_on(self, rig: Rig) -> tuple[str, ...]:
        """The strain and load channels whose accuracy its checks rest on."""
        source = rig.sources.get(getattr(self, "source", ""))
        strains = [name for name in self.reaches(rig) if name in rig.channels]
        return (*strains, *((source.channel,) if source else ()))

    def shown(self) -> tuple[str, ...]:
        """What it shows with these parameters, where it is accepted: `shows`, or less."""
        return self.shows

    def open_wait(self) -> tuple[float, str]:
        """How long (s) it may wait, beyond what a rehearsal takes, for what no document foresees, and for what that is.

        The plan tells it as a range of the duration; 0 and "" for a step that waits for nothing of the kind.
        """
        return 0.0, ""

    def remarks(self) -> Sequence[str]:
        """What it does that its parameters do not say at first sight, in whole sentences for plan and screen."""
        return ()

    def tasks(self) -> Sequence[Task]:
        """What it has a person do or see to, in order."""
        return ()

    def worked(self, record: StepRecord) -> Sequence[WorkRecord]:  # noqa: ARG002  subclasses use it
        """What a person did of it, from the record alone."""
        return ()

    def signed(self, record: StepRecord) -> Sequence[str]:  # noqa: ARG002  subclasses use it
        """Who signed what in it, from the record alone."""
        return ()

    def origin(self, field: str) -> str:
        """Who set a parameter: `procedure`, or `default` where nobody wrote it."""
        return "procedure" if field in self.model_fields_set else "default"

    def stated(self, field: str) -> Stated:
        """A parameter that is a `Within`, with who set it."""
        limit = getattr(self, field)
        assert isinstance(limit, Within), f"{field} is no limit to both sides"
        return Stated(limit, f"{self.origin(field)}: {limit.text}")

    def highest_load(self) -> float:
        """The highest load the step aims at, base unit; 0 where it loads nothing."""
        return 0.0

    @abstractmethod
    def acquire(self, live: LiveRig) -> None:
        """Drive the rig and write the journal; judge nothing but what the next command needs for safety."""

    @abstractmethod
    def judge(self, rig: Rig, rule: Rule, record: StepRecord) -> Sequence[Check]:
        """The checks, from the record alone: no clock, no I/O, the same record gives the same checks."""


def strain_channels(rig: Rig, channels: tuple[str, ...]) -> tuple[str, ...]:
    """The channels meant by a `channels:` parameter, `all strain` spelled out in the order of the rig."""
    if channels == (ALL_STRAIN,):
        return tuple(name for name, channel in rig.channels.items() if channel.measures == "strain")
    return channels


def companion(rig: Rig, strain_channel: str, measures: str) -> str:
    """The channel that measures another quantity (resistance, insulation resistance) of the same gauge."""
    gauge = rig.channels[strain_channel].gauge
    return next(n for n, channel in rig.channels.items() if channel.gauge == gauge and channel.measures == measures)


def channel_problems(rig: Rig, channels: tuple[str, ...]) -> list[tuple[str, str, str]]:
    """Names under `channels:` that are no strain channels of the rig, or stand there twice."""
    known = strain_channels(rig, (ALL_STRAIN,))
    if not known:
        return [("channels", "the rig has no strain channel", "add a channel with `measures: strain` to rig.yaml")]
    named = strain_channels(rig, channels)
    return [
        (f"channels[{number}]", f"{name!r} is no strain channel of the rig", did_you_mean(name, known))
        if name not in known
        else (f"channels[{number}]", f"{name!r} stands in the list already", "leave one of the two out")
        for number, name in enumerate(named, 1)
        if name not in known or name in named[: number - 1]
    ]


def companion_problems(rig: Rig, channels: tuple[str, ...], measures: str) -> list[tuple[str, str, str]]:
    """Strain channels whose gauge has no channel that measures `measures`."""
    measured = {channel.gauge for channel in rig.channels.values() if channel.measures == measures}
    return [
        (
            "channels" if channels == (ALL_STRAIN,) else f"channels[{number}]",
            f"no channel measures the {measures} of gauge {rig.channels[name].gauge!r}",
            f"add a channel with `measures: {measures}` and `gauge: {rig.channels[name].gauge}` to rig.yaml",
        )
        for number, name in enumerate(strain_channels(rig, channels), 1)
        if rig.channels[name].gauge not in measured
    ]


def source_problems(
    rig: Rig, source: str, to: Quantity, highest: float, rate: Quantity | None
) -> list[tuple[str, str, str]]:
    """What does not fit between a load step and the rig: the source, the kind of load, the source's limits, yield."""
    if source not in rig.sources:
        return [("source", f"{source!r} is no source of the rig", did_you_mean(source, rig.sources))]
    if to.kind != rig.part.load:
        return [("to", f"{to.text} is a {to.kind}", f"the part model `{rig.part.kind}` takes a {rig.part.load}")]
    about = rig.sources[source]
    problems = rate_problems(about.rate, rate)
    if rig.channels[about.channel].reduction is not None:
        what = f"its channel {about.channel!r} has a reduction, and a load is read as it is"
        problems.append(("source", what, "let the instrument give the load itself"))
    if to.kind == "gauge pressure" and to.value < 0:
        what = f"{to.text} is a vacuum: no source here draws one, and one may crush the part"
        problems.append(("to", what, "write a pressure above 0"))
    if to.value == 0:
        problems.append(("to", "the step loads nothing, and without load nothing is shown", "write the load to go to"))
    top = show(highest, to.kind)
    if abs(highest) > about.limit.value:
        remedy = (
            "lower `to` (or its margin); raise `limit` only where part, source, relief device and interlocks allow it"
        )
        problems.append(("to", f"the step goes to {top}, above the source's limit of {about.limit.text}", remedy))
    if abs(highest) > rig.part.yield_load():
        what = f"the step goes to {top}; the part starts to yield at {show(rig.part.yield_load(), to.kind)}"
        problems.append(("to", what, "lower `to`, or correct the part's dimensions or yield strength in rig.yaml"))
    return problems


def isolates(rig: Rig, source: str) -> bool:
    """Whether a source of the rig can be shut off from the part."""
    about = rig.instruments[rig.sources[source].instrument]
    return not issubclass(about.driver, Loads) or about.driver.isolates(about.settings)


def rate_problems(fastest: Quantity, rate: Quantity | None) -> list[tuple[str, str, str]]:
    """A rate that the source cannot make."""
    if rate is None or 0 < rate.value <= fastest.value:
        return []
    return [("rate", f"{rate.text} is not above 0 and at most the source's {fastest.text}", "write a lower rate")]
