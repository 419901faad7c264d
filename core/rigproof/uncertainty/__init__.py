"""Uncertainty: budgets (JCGM 100), the decision on conformity (JCGM 106), statistics and regression."""

from rigproof.uncertainty.budget import Budget, Estimate, Line, effective_dof
from rigproof.uncertainty.decision import RULES, Decision, Finding, Rule, Tolerance, conformance_probability, decide
from rigproof.uncertainty.distributions import coverage_factor, normal_cdf, normal_quantile, t_cdf, t_quantile
from rigproof.uncertainty.inputs import SHAPES, Input, Shape
from rigproof.uncertainty.regression import (
    Polynomial,
    StraightLine,
    ThroughOrigin,
    fit_line,
    fit_polynomial,
    fit_through_origin,
)
from rigproof.uncertainty.statistics import autocorrelation, correlation_time, mean_and_sd, mean_and_u

__all__ = [
    "RULES",
    "SHAPES",
    "Budget",
    "Decision",
    "Estimate",
    "Finding",
    "Input",
    "Line",
    "Polynomial",
    "Rule",
    "Shape",
    "StraightLine",
    "ThroughOrigin",
    "Tolerance",
    "autocorrelation",
    "conformance_probability",
    "correlation_time",
    "coverage_factor",
    "decide",
    "effective_dof",
    "fit_line",
    "fit_polynomial",
    "fit_through_origin",
    "mean_and_sd",
    "mean_and_u",
    "normal_cdf",
    "normal_quantile",
    "t_cdf",
    "t_quantile",
]
