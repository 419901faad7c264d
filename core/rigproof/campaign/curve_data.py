"""A curve as text, for a machine and for a spreadsheet."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from .curve import Curve, Stage, monotone
from .intervals import CONFIDENCE, Share
from .matrix import SOUND
from .matrix_data import share_data
from .risks import Risk
from .trial import Trial
from .verdicts import Verdicts

Risks = tuple[Risk, Risk, float]  # consumer's, producer's, share of the process beyond the ends of the curve

REFUSED = ("undecided", "reject", "void")
TOLD = 0.005  # share beyond the ends that is worth a line


def as_data(curve: Curve, seeds: tuple[int, int], risks: Risks | None) -> dict[str, Any]:
    """Sizes in base units of `kind`, and as they are planted; null: beyond the sizes that were measured."""
    mild, severe = curve.caught_between()
    fit = monotone(curve.points)
    data: dict[str, Any] = {
        "format": "rigproof: curve/1",
        "flaw": curve.axis.flaw,
        "kind": curve.axis.kind,
        "seeds": {"first": seeds[0], "count": seeds[1]},
        "confidence": CONFIDENCE,
        "caught at 95 %": {"size": curve.caught(), "mild": mild, "severe": severe},
        "sound rig": {"verdicts": curve.sound.counts, "is size 0": curve.sound_is_zero},
        "producer's risk": share_data(curve.producer),
        "consumer's risk": {"size": curve.limit, **share_data(curve.consumer)},
        "points": [
            {
                "flaw": curve.axis.planted(point.size),
                "size": point.size,
                "stage": point.stage,
                "accepted": share_data(point.accepted),
                "verdicts": point.verdicts.counts,
                "fit": probability,
            }
            for point, (_, probability) in zip(curve.points, fit, strict=True)
        ],
    }
    if curve.rise:
        data["rises"] = [point.size for point in curve.rise]
    elif risks:
        names = ("consumer", "producer")
        data["global risks"] = {
            name: {"value": r.value, "lower": r.lower, "upper": r.upper}
            for name, r in zip(names, risks[:2], strict=True)
        } | {"beyond the ends": risks[2]}
    return data


def as_rows(curve: Curve) -> list[list[str]]:
    """For a spreadsheet: a line for each size, and one for the sound rig, without a size where it has none."""
    rows = [["flaw", "size in base unit", "stage", "accepted", "of", "share", "lower", "upper", "fit", *REFUSED]]
    if not curve.sound_is_zero:
        rows.append(_row(SOUND, "", "sound", curve.sound, ""))
    for point, (_, fit) in zip(curve.points, monotone(curve.points), strict=True):
        name = SOUND if point.stage == "sound" else curve.axis.planted(point.size)
        rows.append(_row(name, str(point.size), point.stage, point.verdicts, str(fit)))
    return rows


def _row(name: str, size: str, stage: Stage, verdicts: Verdicts, fit: str) -> list[str]:
    refused = (str(verdicts.counts[verdict]) for verdict in REFUSED)
    return [name, size, stage, *map(str, share_data(verdicts.accepted).values()), fit, *refused]


def as_text(curve: Curve, rig: Path, last_seed: int, risks: Risks | None) -> str:
    """For people; `last_seed`: of the last run, which is one with the flaw at its limit."""
    axis = curve.axis
    lines = [f"{axis.flaw}: probability of acceptance (95 % interval), and how the others ended"]
    lines.append(_line(SOUND, curve.sound))
    lines += [_line(axis.shown(point.size), point.verdicts) for point in curve.measured if point.stage != "sound"]
    lines.append(f"  {_where_the_sound_rig_is(curve)}")
    lines += ["", f"caught in 95 %: {_caught(curve)}"]
    lines.append(f"producer's risk, a sound rig is not accepted: {curve.producer}")
    lines.append(f"consumer's risk, {axis.planted(curve.limit)} is accepted: {curve.consumer}")
    if risks and curve.rise:
        lines.append("global risks (JCGM 106): nobody can say, for the same reason")
    elif risks:
        consumer, producer = map(_percent, risks[:2])
        lines.append(f"global risks (JCGM 106): consumer's {consumer}, producer's {producer}")
        lines += [f"  {_beyond(curve, risks[2])}"] if risks[2] > TOLD else []
    lines += ["", "one of the rigs again:", f"  {Trial((axis.planted(curve.limit),), last_seed).command(rig)}"]
    return "\n".join(lines)


def _where_the_sound_rig_is(curve: Curve) -> str:
    """Whether the curve, and so the global risks, rest on its runs."""
    if curve.sound_is_zero:
        return f"The sound rig is the curve's point {curve.axis.shown(0.0)}: its runs count there."
    mild = curve.axis.planted(curve.axis.mild)
    why = "is not the same as no flaw" if curve.axis.mild == 0.0 else "is a flaw already"
    return f"The sound rig is no point of the curve, which begins with {mild}: that {why}. Its runs do not count there."


def _line(name: str, verdicts: Verdicts) -> str:
    accepted = verdicts.accepted
    return f"  {name:>14}  {_bar(accepted)} {accepted!s:22} {verdicts.against}".rstrip()


def _bar(share: Share) -> str:
    return f"{'#' * round(20 * share.value):20}"


def _beyond(curve: Curve, share: float) -> str:
    ends = " to ".join(map(curve.axis.shown, curve.ends))
    return (
        f"{100 * share:.2g} % of that process lies beyond {ends}, and counts as the end it lies beyond: where no part "
        "can be so, another distribution than the normal one holds, and other risks"
    )


def _percent(risk: Risk) -> str:
    return f"{100 * risk.value:.2g} % ({100 * risk.lower:.2g} % to {100 * risk.upper:.2g} %)"


def _caught(curve: Curve) -> str:
    """The size and its interval, in words that say which end is open."""
    size, (mild, severe) = curve.caught(), curve.caught_between()
    if curve.sound_is_refused:
        return "nobody can say: the sound rig is not accepted either; see `rigproof check`"
    if rise := curve.rise:
        milder, severer = (f"{point.accepted} at {curve.axis.shown(point.size)}" for point in rise)
        return (
            f"nobody can say: accepted in {milder}, but in {severer}, nearer --to; swap --from and --to, or "
            "choose ends between which acceptance falls"
        )
    if size is None:
        return f"no size up to {curve.axis.shown(curve.axis.severe)}; go further with --to"
    above = f"less than 95 % at {curve.axis.shown(mild)}" if mild is not None else "open towards milder sizes"
    below = f"more at {curve.axis.shown(severe)}" if severe is not None else "open towards severer sizes: more --runs"
    return f"{curve.axis.shown(size)} (with 95 % confidence: {above}; {below})"
