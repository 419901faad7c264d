"""What each flaw does at the terminals, against a calculation by hand or a formula named beside it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import cos, exp, log, radians, sin, sqrt

import numpy as np
import pytest

from rigproof.errors import UsageError
from rigproof_twin.as_built import AsBuilt
from rigproof_twin.flaws import plant
from rigproof_twin.instruments import SimulatedInstrument
from rigproof_twin.instruments import build as instrument
from rigproof_twin.interface import FloatArray
from rigproof_twin.physics.cylinder import Response
from rigproof_twin.physics.thermal import TemperatureCourse

from .planted import BAR, Spool, flaw

Builder = Callable[..., AsBuilt]
GAUGE_FACTOR = 2.08  # the packet's


def strain(output: float) -> float:
    """Of a quarter bridge: four times the output over the gauge factor, to first order."""
    return 4.0 * output / GAUGE_FACTOR


def rise(spool: Spool, channel_input: int) -> float:
    """Output at 25 bar less that without load."""
    zero = spool.output(channel_input)
    spool.move_to(25.0)
    top = spool.output(channel_input)
    spool.move_to(0.0)
    return top - zero


def facing(built: AsBuilt, name: str, kind: str, spool: Spool) -> SimulatedInstrument:
    return instrument(kind, spool.world.at_terminals(name), built.appearances[name], np.random.default_rng(0))


def test_a_turned_grid_sees_what_mohrs_circle_says() -> None:
    """e = (e1 + e2)/2 + (e1 - e2)/2 cos 2b; across it the other end of the diameter."""
    angle = radians(10.0)
    turned = Response(100.0, 20.0, 1.0, -0.5).turned(angle)
    assert turned.along_per_load == pytest.approx(60.0 + 40.0 * cos(2 * angle), rel=1e-12)
    assert turned.across_per_load == pytest.approx(60.0 - 40.0 * cos(2 * angle), rel=1e-12)
    assert turned.plastic_along == pytest.approx(0.25 + 0.75 * cos(2 * angle), rel=1e-12)


def test_misaligned_gauges(build: Builder) -> None:
    """By transformation of strain, e' = e_along cos² b + e_across sin² b; transverse sensitivity costs under 1 %."""
    healthy, sick = Spool(build(0)), Spool(build(0, flaw("misaligned-gauges", "10°")))
    hoop, axial = rise(healthy, 1), rise(healthy, 2)
    turn, rest = sin(radians(10.0)) ** 2, cos(radians(10.0)) ** 2
    assert rise(sick, 1) == pytest.approx(hoop * rest + axial * turn, rel=1e-3)
    assert rise(sick, 2) == pytest.approx(axial * rest + hoop * turn, rel=1e-2)


def test_misplaced_gauges(build_beam: Builder) -> None:
    """The moment falls straight to the hook: (400 - 60 - 25)/(400 - 60), by hand, the lengths drawn within 0.5 mm."""
    healthy, sick = build_beam(0), build_beam(0, flaw("misplaced-gauges", "25 mm"))
    ratio = sick.part.response("top").along_per_load / healthy.part.response("top").along_per_load
    assert ratio == pytest.approx(315.0 / 340.0, rel=1e-3)


def test_another_resistance(build: Builder) -> None:
    sick = Spool(build(0, flaw("other-resistance", "120 Ω")))
    read = sick.world.at_terminals("ohmmeter").resistance_ohm(1)
    assert read == pytest.approx(120.0, rel=0.002)  # bonding leaves 600 µε at most


def test_thermal_mismatch_follows_the_temperature(build: Builder) -> None:
    """ASTM E251 (from memory): thermal output of (a_part - a_gauge) dT; 10 K of steel under a gauge for aluminium."""
    rises = []
    for planted in ([], [flaw("thermal-mismatch", "23 ppm/K")]):
        built = build(0, *planted)
        built.course = TemperatureCourse(20.0, 10.0 / 3600.0, 0.0, 600.0, 0.0)
        spool = Spool(built)
        zero = spool.output()
        spool.world.clock.wait(3600.0)
        rises.append(strain(spool.output() - zero))
    assert rises[1] - rises[0] == pytest.approx((11.0e-6 - 23.0e-6) * 10.0, rel=0.06)  # stated: 11 ± 0.5 ppm/K


def test_self_heating_settles_exponentially(build: Builder) -> None:
    """A grid 20 K above the part reads as if steel had not grown with it: -11 ppm/K x 20 K; half at tau ln 2."""
    healthy, sick = Spool(build(0)), Spool(build(0, flaw("self-heating", "20 K")))
    assert sick.output() == healthy.output()
    for moment, share in ((300.0 * log(2.0), 0.5), (3600.0, 1.0 - exp(-12.0))):
        for each in (healthy, sick):
            each.world.clock.wait(moment - each.world.clock.now())
        assert strain(sick.output() - healthy.output()) == pytest.approx(-220e-6 * share, rel=0.06)


def test_a_turned_sign(build: Builder) -> None:
    healthy, sick = Spool(build(0)), Spool(build(0, flaw("turned-sign")))
    assert sick.output() == -healthy.output()
    assert sick.output(2) == healthy.output(2)


def test_long_leads_take_from_the_slope_and_add_to_the_shunt(build: Builder) -> None:
    """Three wires: slope R/(R + r). Over arm and leads the resistor takes (R + 2 r)² / Rs from an arm of R + r."""
    slopes, steps = [], []
    for planted in ([], [flaw("long-leads", "10 Ω")]):
        spool = Spool(build(0, *planted))
        slopes.append(rise(spool, 1))
        zero = spool.output()
        spool.bridge.close_shunt(1, True)
        steps.append(spool.output() - zero)
    short, long = 0.8, 10.8
    assert slopes[1] / slopes[0] == pytest.approx((350.0 + short) / (350.0 + long), rel=2e-3)
    by_hand = [(350.0 + 2 * r) ** 2 / (350.0 + r) for r in (short, long)]
    assert steps[1] / steps[0] == pytest.approx(by_hand[1] / by_hand[0], rel=2e-3)


def test_unequal_leads_shift_the_balance(build: Builder) -> None:
    """dR/(4 R) of an arm of 350.8 Ω, and its second-order term -dR/(2 R): by hand."""
    healthy, sick = Spool(build(0)), Spool(build(0, flaw("unequal-leads", "1 Ω")))
    arm = 350.8
    assert sick.output() - healthy.output() == pytest.approx(1.0 / (4 * arm) * (1 - 1.0 / (2 * arm)), rel=5e-3)


def test_a_loose_joint_comes_and_goes(build: Builder) -> None:
    """Two levels, 0.05 Ω/(4 x 350 Ω) apart, about half the time each, and the same whoever looks when."""
    healthy, sick, again = Spool(build(0)), *(Spool(build(0, flaw("loose-joint", "50 mΩ"))) for _ in range(2))
    times = np.arange(0.0, 2000.0, 0.5)
    with_joint, without = (each.bridge.bridge_output([1], times)[:, 0] for each in (sick, healthy))
    added = np.subtract(with_joint, without)
    bad = added > 1e-5
    assert added[bad] == pytest.approx(0.05 / (4 * 350.8), rel=0.01)
    assert np.abs(added[~bad]).max() < 1e-12
    assert 0.4 < bad.mean() < 0.6
    changes = np.count_nonzero(np.diff(bad))
    assert 300 < changes < 430  # one in five seconds, less the short ones between two looks
    one_by_one = np.concatenate([again.bridge.bridge_output([1], times[k : k + 1]) for k in range(0, 4000, 10)])
    assert np.array_equal(one_by_one, sick.bridge.bridge_output([1], times[::10]))


def test_mains_pickup_is_a_ripple_of_50_hz(build: Builder) -> None:
    """A sine has a standard deviation of A/sqrt(2) over whole periods; at one reading a period it stands still."""
    healthy, sick = Spool(build(0)), Spool(build(0, flaw("mains-pickup", "5 µV/V")))

    def ripple(interval_s: float) -> float:
        times: FloatArray = 0.005 + interval_s * np.arange(100, dtype=np.float64)
        return float(np.std(np.subtract(*(each.bridge.bridge_output([1], times) for each in (sick, healthy)))))

    assert ripple(0.023) == pytest.approx(5e-6 / sqrt(2), rel=1e-6)
    assert ripple(0.02) < 1e-12


@pytest.mark.parametrize(
    ("name", "size", "truth", "shown"),
    [
        ("wrong-gain", "1 %", [0.5e-3, -0.2e-3], [0.505e-3, -0.202e-3]),
        ("saturation", "0.3 mV/V", [0.5e-3, -0.5e-3, 0.2e-3], [0.3e-3, -0.3e-3, 0.2e-3]),
        ("coarse-range", "2.5 µV/V", [3.6e-6, 6.4e-6], [2.5e-6, 7.5e-6]),
    ],
)
def test_an_amplifier(build: Builder, name: str, size: str, truth: list[float], shown: list[float]) -> None:
    built = build(0, flaw(name, size))
    amplifier = facing(built, "bridge", "bridge amplifier", Spool(built))
    times = np.zeros(len(truth))
    read = amplifier.seen_all((1,), np.array(truth)[:, None], times)[:, 0]
    assert read == pytest.approx(shown, rel=6e-4, abs=3e-7)  # gain within 0.05 %, noise 0.03 µV/V
    if name != "wrong-gain":
        assert amplifier.seen_all((1,), np.full((50, 1), 0.4e-3), np.zeros(50)).std() < 1e-12


def test_frozen_readings_repeat_the_last_live_one(build: Builder) -> None:
    built = build(0, flaw("frozen-readings", "12 min"))
    amplifier = facing(built, "bridge", "bridge amplifier", Spool(built))
    times = np.arange(715.0, 725.0)
    read = amplifier.seen_all((1, 2), np.column_stack([times, 2 * times]) * 1e-6, times)
    assert len(set(read[:5, 0])) == 5
    assert np.all(read[5:] == read[4])
    later = amplifier.seen_all((2, 1), np.full((10, 2), 1.0), times + 60.0)
    assert np.all(later == read[4, ::-1])


@pytest.mark.parametrize(
    ("name", "size", "truth", "shown"),
    [
        ("transmitter-offset", "0.3 bar", 0.0, 0.3 * BAR),
        ("unit-slip", "14.504", 1.0 * BAR, 14.504 * BAR),  # 14.504 psi are a bar
        ("unit-slip", "14.504", 5.0 * BAR, float("inf")),  # beyond the transmitter's 60 bar
    ],
)
def test_a_transmitter(build: Builder, name: str, size: str, truth: float, shown: float) -> None:
    built = build(0, flaw(name, size))
    read = facing(built, "transmitter", "pressure transmitter", Spool(built)).seen(1, truth)
    if shown == float("inf"):
        assert read > 1e30
    else:
        assert read == pytest.approx(shown, rel=2e-3, abs=0.035 * BAR)  # its accuracy


def test_a_transmitters_other_inputs_keep_their_zero(build: Builder) -> None:
    """Beside its pressure a meter may show a temperature, to which an offset in pascal would be the end."""
    built = build(0)
    built.appearances["transmitter"] = replace(
        built.appearances["transmitter"],
        deviations=dict.fromkeys((1, 2), built.appearances["thermometer"].deviations[1]),
    )
    built.thermometers.add(("transmitter", 2))
    before = built.appearances["transmitter"].deviations[2]
    plant(built, flaw("transmitter-offset"))
    assert built.appearances["transmitter"].deviations[2] == before
    assert built.appearances["transmitter"].deviations[1].offset == before.offset + 0.3 * BAR


def test_a_part_of_another_material(build: Builder) -> None:
    """Hoop strain of a closed tube outside goes as (2 - nu)/E (thin-wall formula, from memory; ratio only)."""
    healthy, sick = build(0), build(0, flaw("wrong-material", "169 GPa"))
    nu, modulus = healthy.part.poisson_ratio, healthy.part.elastic_modulus_pa
    by_hand = (2 - 0.275) / 169e9 / ((2 - nu) / modulus)
    assert rise(Spool(sick), 1) / rise(Spool(healthy), 1) == pytest.approx(by_hand, rel=2e-3)


def test_undershoot_stops_short(build: Builder) -> None:
    spool = Spool(build(0, flaw("undershoot", "3 %")))
    spool.move_to(20.0)
    assert spool.world.source.part_pa_now() == pytest.approx(0.97 * 20.0 * BAR, rel=1e-4)
    assert not spool.world.source.settling()


def test_a_loaded_zero_keeps_pressure_in_the_part(build: Builder) -> None:
    spool = Spool(build(0, flaw("loaded-zero", "0.3 bar")))
    assert spool.world.source.part_pa_now() == 0.3 * BAR
    spool.move_to(20.0)
    assert spool.world.source.part_pa_now() == pytest.approx(20.0 * BAR, rel=1e-4)
    spool.world.source.enable(False)
    spool.world.clock.wait(60.0)
    assert spool.world.source.part_pa_now() == 0.3 * BAR


def test_trapped_gas_hides_a_leak(build: Builder) -> None:
    """82 % of the stiffness is left, and of the fall.

    By hand, per pascal: 2 % of air at 36 bar, 0.02 p0/(p0 + p)² = 1.5e-10; water 4.6e-10 (handbook, 20 °C); a thin
    closed tube D (5 - 4 nu)/(4 E t) = 2.2e-10 (from memory).
    """
    falls = []
    for planted in ([], [flaw("trapped-gas", "2 %")]):
        built = build(0, flaw("slow-leak", "0.5 bar/min"), *planted)
        built.course = TemperatureCourse(20.0, 0.0, 0.0, 600.0, 0.0)
        spool = Spool(built)
        spool.move_to(36.0)
        spool.world.source.connect(False)
        before = spool.world.source.part_pa_now()
        spool.world.clock.wait(60.0)
        falls.append(before - spool.world.source.part_pa_now())
    assert falls[1] / falls[0] == pytest.approx(0.82, abs=0.01)


@pytest.mark.parametrize(
    ("of", "name", "message"),
    [
        ("spool", "misread", "no strain of the rig is read by hand"),
        ("spool", "misplaced-gauges", "does not change along it"),
        *(
            ("beam", name, "no bridge amplifier of the rig is read over a wire")
            for name in ("wrong-gain", "saturation")
        ),
        *(("beam", name, "has no pressure source") for name in ("undershoot", "loaded-zero", "slow-leak")),
        ("beam", "unit-slip", "has no pressure transmitter"),
    ],
)
def test_a_rig_that_cannot_have_it_says_so(
    build: Builder, build_beam: Builder, of: str, name: str, message: str
) -> None:
    with pytest.raises(UsageError, match=message):
        (build if of == "spool" else build_beam)(0, flaw(name))
