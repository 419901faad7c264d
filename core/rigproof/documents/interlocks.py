"""Interlocks as written in rig.yaml. Software: no protective device, and never a reason to leave one out.

One class for each kind; the keys of an entry tell which it is.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any, ClassVar

from pydantic import GetCoreSchemaHandler, ValidationInfo, ValidatorFunctionWrapHandler, field_validator
from pydantic_core import CoreSchema, core_schema

from rigproof.documents.bench import OfChannel, WatchedChannel
from rigproof.documents.context import Context
from rigproof.documents.named import Named
from rigproof.documents.validation import checked, keys_at, wrong_key
from rigproof.instruments import Reads
from rigproof.models import BridgeModel
from rigproof.quantities import Quantity, WrittenError, quantity, show

if TYPE_CHECKING:
    from rigproof.documents.rig import RigDocument

LOOK_EVERY_S = 1.0  # how often what is watched is read under load
SECONDS = {"at_least": f"{LOOK_EVERY_S:g} s", "because": "under load the next reading comes after that time"}

Unfit = tuple[str, str, str]  # key as written, what is wrong, remedy


class Interlock(Named):
    """What is watched during the whole run; where it trips the run ends and the load is taken off."""

    marks: ClassVar[tuple[str, ...]] = ()  # the keys that no other kind has

    channel: WatchedChannel
    """Channel that is watched, read every second under load."""

    @property
    def channels(self) -> tuple[str, ...]:
        """All that it watches."""
        return (self.channel,)

    def unfit(self, rig: RigDocument) -> Unfit | None:  # noqa: ARG002  kinds use it
        """What does not fit the rest of the rig."""
        return None


class Limit(Interlock):
    """A limit on a channel."""

    above: Annotated[Quantity | None, OfChannel()] = None
    """The run ends and the load is taken off where the channel reads above this."""
    below: Annotated[Quantity | None, OfChannel()] = None
    """The run ends and the load is taken off where the channel reads below this."""

    @field_validator("below")
    @classmethod
    def _trips_somewhere(cls, below: Quantity | None, info: ValidationInfo) -> Quantity | None:
        above = info.data.get("above", below)
        if "above" in info.data and above is None and below is None:
            raise WrittenError("the interlock has no limit", "write `above:` or `below:` with a value")
        if above is not None and below is not None and "above" in info.data and below.value >= above.value:
            kind = below.kind
            raise WrittenError(
                f"{show(below.value, kind)} is not under {show(above.value, kind)}: it would always trip",
                "`below` is the lower limit, `above` the upper one",
            )
        return below


class TimeBeyond(Limit):
    """How long a channel may be beyond a limit, such as the time at pressure."""

    marks = ("for longer than",)

    for_longer_than: Annotated[Quantity, quantity("time", at_least=SECONDS["at_least"], because=SECONDS["because"])]
    """It trips where the channel was beyond its limit for longer than this, counted over the whole run."""


class RateOfChange(Interlock):
    """How fast a channel may change."""

    marks = ("rising faster than", "falling faster than", "over")

    rising_faster_than: Annotated[Quantity | None, OfChannel(of="rate", above_zero=True)] = None
    """It trips where the channel rises faster than this."""
    falling_faster_than: Annotated[Quantity | None, OfChannel(of="rate", above_zero=True)] = None
    """It trips where the channel falls faster than this; written without a sign."""
    over: Annotated[Quantity, quantity("time", at_least=SECONDS["at_least"], because=SECONDS["because"])]
    """Time over which the rate is taken: from a reading that is at least so old to the newest."""

    @field_validator("falling_faster_than")
    @classmethod
    def _trips_somewhere(cls, falling: Quantity | None, info: ValidationInfo) -> Quantity | None:
        if falling is None and info.data.get("rising_faster_than", falling) is None and len(info.data) > 2:
            raise WrittenError(
                "the interlock has no limit", "write `rising faster than:` or `falling faster than:` with a rate"
            )
        return falling

    def unfit(self, rig: RigDocument) -> Unfit | None:
        """A limit that the steps of a coarse reading would pass."""
        about = rig.channels[self.channel]
        step = about.accuracy.resolution
        limits = [limit for limit in (self.rising_faster_than, self.falling_faster_than) if limit is not None]
        if step is None or about.reduction is not None or not limits:
            return None
        least = min(limits, key=lambda limit: limit.value)
        if least.value * self.over.value > 2 * step.value:
            return None
        said = f"two steps of its resolution ({step.text}) within {self.over.text} are more than {least.text}"
        return "over", f"{said}: it would trip by itself", "take the rate over a longer time, or raise the limit"


class Difference(Interlock):
    """How far two channels of one quantity may be apart."""

    marks = ("against", "apart by more than")

    against: WatchedChannel
    """The other channel, of the same quantity; the two count where they are read together."""
    apart_by_more_than: Annotated[Quantity, OfChannel(of="difference", above_zero=True)]
    """It trips where the two read further apart than this, whichever is higher."""

    @field_validator("against")
    @classmethod
    def _of_one_quantity(cls, against: str, info: ValidationInfo) -> str:
        context, channel = Context.of(info), info.data.get("channel")
        if channel is None or context is None:
            return against
        if against == channel:
            raise WrittenError(f"{against!r} is compared with itself", "name another channel of the same quantity")
        one, other = context.measured(channel), context.measured(against)
        if one and other and one != other:
            raise WrittenError(
                f"{against!r} measures {other}, and {channel!r} measures {one}",
                f"name another channel that measures {one}",
            )
        return against

    @property
    def channels(self) -> tuple[str, ...]:
        """Both."""
        return self.channel, self.against


class Silence(Interlock):
    """How long a channel may give no reading, or the same one again and again."""

    marks = ("silent for longer than", "unchanged for longer than")

    silent_for_longer_than: Annotated[
        Quantity | None, quantity("time", at_least=SECONDS["at_least"], because=SECONDS["because"])
    ] = None
    """Under load: it trips where no reading came for longer than this; a single one that is missing does not trip."""
    unchanged_for_longer_than: Annotated[
        Quantity | None, quantity("time", at_least=SECONDS["at_least"], because=SECONDS["because"])
    ] = None
    """Under load: it trips where the reading was the same to the last digit for longer than this."""

    @field_validator("unchanged_for_longer_than")
    @classmethod
    def _one_of_them(cls, unchanged: Quantity | None, info: ValidationInfo) -> Quantity | None:
        silent = info.data.get("silent_for_longer_than")
        if "silent_for_longer_than" in info.data and (silent is None) == (unchanged is None):
            raise WrittenError(
                "an interlock watches one thing",
                "write `silent for longer than:` or `unchanged for longer than:`, and each in an interlock of its own",
            )
        return unchanged

    @property
    def longest(self) -> Quantity:
        """The time, of whichever it is."""
        found = self.silent_for_longer_than or self.unchanged_for_longer_than
        assert found is not None, "checked when the document was read"
        return found

    def unfit(self, rig: RigDocument) -> Unfit | None:
        """Less time than its own instrument may keep everybody waiting for one reading: nobody looks meanwhile."""
        if self.silent_for_longer_than is None:
            return None
        instrument = rig.instruments[rig.channels[self.channel].instrument]
        tries = instrument.retries
        blind_s = instrument.timeout.value
        blind_s += tries.times * (instrument.timeout.value + tries.wait.value) if tries else 0.0
        if not issubclass(instrument.driver, Reads) or self.longest.value >= blind_s:
            return None
        said = (
            f"one reading of {instrument.name!r} may take {blind_s:g} s, and until then nobody sees that it is silent"
        )
        what = "`timeout` or `retries`" if tries else "`timeout`"
        return "silent for longer than", said, f"shorten its {what}, or write {blind_s:g} s or more"


class ShareOfYield(Interlock):
    """How near the strain may come to that at which the part yields, as its model computes it."""

    marks = ("above share of yield",)

    above_share_of_yield: Annotated[
        Quantity,
        quantity("ratio", above="0 %", at_most="100 %", because="beyond it the part yields"),
    ]
    """It trips where the strain, of either sign, is above this share of the one that the part model computes for this
    gauge at the load of first yield, from nominal values."""

    @field_validator("channel")
    @classmethod
    def _is_strain(cls, channel: str, info: ValidationInfo) -> str:
        context = Context.of(info)
        measured = context.measured(channel) if context else None
        if measured is not None and measured != "strain":
            raise WrittenError(
                f"{channel!r} measures {measured}, and yield is told from strain", "name a channel that measures strain"
            )
        return channel

    def unfit(self, rig: RigDocument) -> Unfit | None:
        """A gauge that the part model does not know, or that stays nearly unstrained while the part yields."""
        about = rig.channels[self.channel]
        gauge = rig.gauges.get(about.gauge or "")
        if gauge is None or not isinstance(about.reduction, BridgeModel):
            what = f"{self.channel!r} names no gauge with a bridge, and its yield strain cannot be computed"
            return "channel", what, "name a channel of a gauge on the part, or write `above:` with a strain"
        along, across = rig.part.nominal_strain(gauge.at)
        if abs(along) < 0.1 * abs(across):
            what = f"at {gauge.at!r} the part hardly strains along the gauge, so that yield does not show there"
            return "channel", what, "name a channel of another gauge"
        return None


KINDS: tuple[type[Interlock], ...] = (Limit, TimeBeyond, RateOfChange, Difference, Silence, ShareOfYield)


@dataclass(frozen=True)
class ByKeys:
    """Pydantic metadata: the keys of the entry choose who reads it."""

    def read(self, written: Any, as_any: ValidatorFunctionWrapHandler, info: ValidationInfo) -> Interlock:
        """The interlock; one made in code is taken as it is."""
        if isinstance(written, Interlock):
            return written
        if not isinstance(written, Mapping):
            found: Interlock = as_any(written)  # which says that a mapping is wanted
            return found
        marked = {kind: mark for kind in KINDS for mark in kind.marks if mark in written}
        limit = next((key for key in ("above", "below") if key in written), None)
        if limit and marked and TimeBeyond not in marked:
            marked[Limit] = limit
        if len(marked) > 1:
            one, other = list(marked.values())[:2]
            remedy = "write each as an interlock of its own"
            raise wrong_key(
                (other,), f"one interlock watches one thing, and has {one!r} and {other!r}", remedy, written
            )
        known = dict.fromkeys(key for kind in KINDS for key in keys_at(kind, ()))
        kind = next(iter(marked), Limit)
        return checked(kind, written, info.context, extra=() if marked else tuple(known))

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.with_info_wrap_validator_function(self.read, handler(source))


# As a field: the union is what the JSON Schema shows.
AnyInterlock = Annotated[Limit | TimeBeyond | RateOfChange | Difference | Silence | ShareOfYield, ByKeys()]
