"""Inputs of budgets in the units of the trade; the verdict keeps base units. Factors: SI Brochure, 9th edition."""

from __future__ import annotations

from typing import Any

import pytest

from rigproof.verdict import inputs
from rigproof.verdict.record import BudgetLine, Check, ToleranceRecord


def check(**changed: Any) -> Check:
    limits = ToleranceRecord(lower=-0.01, upper=0.01, origin="procedure", computed=False)
    values: dict[str, Any] = {"step": 1, "step_kind": "cycles", "name": "zero return", "subject": "hoop"}
    values |= {"kind": "ratio", "unit": "1", "measured": 0.0, "u": 0.0, "dof": None, "tolerance": limits}
    values |= {"guard_band": 0.0, "acceptance_lower": None, "acceptance_upper": None, "conformance_probability": None}
    return Check.model_validate(values | {"finding": "accept"} | changed)


def line(value: float, u: float, unit: str, stated: str = "", sensitivity: float = 0.5) -> BudgetLine:
    return BudgetLine(
        input="x",
        value=value,
        u=u,
        unit=unit,
        dof=None,
        stated=stated,
        sensitivity=sensitivity,
        contribution=u,
        share=1,
    )


@pytest.mark.parametrize(
    ("one", "value", "u"),
    [
        (line(2.06e11, 2.4e9, "Pa", "206 GPa ± 2 %"), "206.0 GPa", "2.4 GPa"),
        (line(0.0, 2.894e-8, "V/V", "0.05 µV/V, resolution 0.005 µV/V"), "0 µV/V", "0.029 µV/V"),
        (line(4.52e-3, 3.1e-5, "m", "{value: 4.52 mm, U: 0.062 mm, k: 2}"), "4.520 mm", "0.031 mm"),
        (line(2.08, 0.006, "1", "2.08 ± 0.5 %"), "2.0800", "0.006"),  # the % is not the value's
        (line(0.004, 0.00115, "1", "0.4 % ± 0.2 %"), "0.40 %", "0.12 %"),
        (line(1.17e-5, 1.7e-7, "1/K", "11.7 ppm/degC ± 0.3 ppm/K"), "11.70 ppm/K", "0.17 ppm/K"),  # as one may type it
        (line(20.0, 1.2, "°C", "20 °C ± 2 K"), "20.0 °C", "1.2 K"),
        (line(350.6, 0.021, "Ω", "as measured in this run"), "350.600 Ω", "0.021 Ω"),
        (line(4.252e-4, 2.9e-9, "V/V"), "425.2000 µV/V", "0.0029 µV/V"),
        (line(2.5e6, 42.0, "Pa"), "25.00000 bar", "0.00042 bar"),
        (line(1.198e-11, 3.2e-15, "V/V per Pa"), "1.19800 µV/V per bar", "0.00032 µV/V per bar"),
        (line(4.749e-6, 4.8e-9, "V/V per N"), "4.7490 µV/V per N", "0.0048 µV/V per N"),
    ],
)
def test_the_unit_is_the_one_it_was_written_in_else_the_usual_one(one: BudgetLine, value: str, u: str) -> None:
    assert (inputs.value(one, check()), inputs.u(one, check())) == (value, u)


def test_what_the_result_takes_one_to_one_is_of_its_kind() -> None:
    scatter = line(2e-6, 1.4e-7, "1", sensitivity=1.0)
    assert inputs.value(scatter, check(kind="strain")) == "2.00 µε"
    assert inputs.value(scatter, check(kind="strain", unit="Pa")) == "0.00000200"
