from __future__ import annotations

import numpy as np
import pytest
from pydantic import ValidationError
from scipy.optimize import brentq

from rigproof_strain import pt100
from rigproof_strain.pt100 import Pt100


def test_the_inverse_holds_over_the_whole_range() -> None:
    celsius = np.linspace(-200, 850, 4201)
    assert pt100.temperature_c(pt100.resistance_ratio(celsius)) == pytest.approx(celsius, abs=1e-9)


@pytest.mark.parametrize("ohm", [18.6, 60.0, 99.99, 100.0, 107.8, 138.5, 390.0])
def test_temperature_is_the_root_that_a_solver_finds(ohm: float) -> None:
    def difference(t: float) -> float:
        cold = -4.183e-12 * (t - 100) * t**3 if t < 0 else 0.0
        return 100 * (1 + 3.9083e-3 * t - 5.775e-7 * t**2 + cold) - ohm

    root = brentq(difference, -205, 855, xtol=1e-10)  # type: ignore[no-untyped-call]
    assert Pt100().reduce(ohm, 0.0, 100.0) == pytest.approx(root, abs=1e-8)


def test_the_function_has_no_kink_at_zero() -> None:
    slope = np.gradient(np.asarray(pt100.temperature_c(np.linspace(0.9999, 1.0001, 201))))
    assert np.ptp(slope) / slope.mean() < 1e-4


@pytest.mark.parametrize("ohm", [np.nan, np.inf, -1.0, 0.0, 18.0, 18.3, 390.7, 391.0, 1000.0, 9.9e37])
def test_what_no_platinum_sensor_shows_gives_no_temperature(ohm: float) -> None:
    assert np.isnan(Pt100().reduce(ohm, 0.0, 100.0))


def test_numbers_give_numbers_and_arrays_arrays() -> None:
    assert isinstance(Pt100().reduce(107.79, 0.0, 100.0), float)
    found = Pt100().reduce(np.array([[107.79, np.nan], [60.0, 500.0]]), 0.0, 100.0)
    assert isinstance(found, np.ndarray)
    assert found.shape == (2, 2)
    assert np.isnan(found).tolist() == [[False, True], [False, True]]


def test_r0_scales_the_reading() -> None:
    model = Pt100.model_validate({"r0": "1000 Ω"})
    assert model.inputs(())[0].value == 1000
    assert model.reduce(1077.935, 0.0, 1000.0) == pytest.approx(Pt100().reduce(107.7935, 0.0, 100.0))


def test_without_a_class_the_only_input_is_r0_and_it_is_exact() -> None:
    (r0,) = Pt100().inputs(())
    assert (r0.name, r0.value, r0.u, r0.unit) == ("r0", 100.0, 0.0, "Ω")


@pytest.mark.parametrize(
    ("tolerance_class", "celsius", "limit"),
    [("A", 100.0, 0.35), ("B", 100.0, 0.8), ("AA", 100.0, 0.27), ("B", -100.0, 0.8), ("A", 0.0, 0.15)],
)
def test_a_class_adds_its_limits(tolerance_class: str, celsius: float, limit: float) -> None:
    model = Pt100.model_validate({"tolerance class": tolerance_class})
    r0, deviation = model.inputs(())
    assert (deviation.name, deviation.unit) == ("deviation of the sensor", "1")
    assert (deviation.value, deviation.shape) == (0.0, "rectangular")
    assert deviation.u == pytest.approx(1 / 3**0.5)
    ohm = 100 * pt100.resistance_ratio(celsius)
    ends = [model.reduce(ohm, 0.0, r0.value, share) for share in (-1.0, 0.0, 1.0)]
    assert ends == pytest.approx([celsius - limit, celsius, celsius + limit], abs=1e-9)


@pytest.mark.parametrize(("key", "text"), [("r0", "0 Ω"), ("r0", "100 °C"), ("tolerance class", "D")])
def test_what_cannot_be_is_refused(key: str, text: str) -> None:
    with pytest.raises(ValidationError):
        Pt100.model_validate({key: text})
