"""Uncertainty: budgets (JCGM 100), Monte Carlo (JCGM 101), the decision on conformity (JCGM 106), regression."""

from rigproof.uncertainty.anova import GroupStatistics, group_statistics
from rigproof.uncertainty.batch import BatchEstimate, evaluate_many
from rigproof.uncertainty.budget import Budget, Estimate, Line, effective_dof
from rigproof.uncertainty.convolution import Convolved, first_order_law
from rigproof.uncertainty.decision import (
    RULES,
    Decision,
    Finding,
    Rule,
    Tolerance,
    conformance_probability,
    decide,
    decide_by,
)
from rigproof.uncertainty.distributions import (
    beta_cdf,
    beta_quantile,
    coverage_factor,
    f_tail,
    normal_cdf,
    normal_quantile,
    t_cdf,
    t_quantile,
)
from rigproof.uncertainty.improving import Improvement, improvement
from rigproof.uncertainty.inputs import SHAPES, Input, Shape
from rigproof.uncertainty.laws import Empirical, Law, Student
from rigproof.uncertainty.montecarlo import Trials, monte_carlo, numerical_tolerance
from rigproof.uncertainty.regression import (
    Polynomial,
    StraightLine,
    ThroughOrigin,
    drift,
    fit_line,
    fit_polynomial,
    fit_polynomial_through_origin,
    fit_through_origin,
)
from rigproof.uncertainty.risk import GlobalRisk, en_number, en_satisfactory, global_risk
from rigproof.uncertainty.screening import bend
from rigproof.uncertainty.settling import Method, Settled, settle
from rigproof.uncertainty.statistics import autocorrelation, correlation_time, mean_and_sd, mean_and_u
from rigproof.uncertainty.validation import Validation, validate

__all__ = [
    "RULES",
    "SHAPES",
    "BatchEstimate",
    "Budget",
    "Convolved",
    "Decision",
    "Empirical",
    "Estimate",
    "Finding",
    "GlobalRisk",
    "GroupStatistics",
    "Improvement",
    "Input",
    "Law",
    "Line",
    "Method",
    "Polynomial",
    "Rule",
    "Settled",
    "Shape",
    "StraightLine",
    "Student",
    "ThroughOrigin",
    "Tolerance",
    "Trials",
    "Validation",
    "autocorrelation",
    "bend",
    "beta_cdf",
    "beta_quantile",
    "conformance_probability",
    "correlation_time",
    "coverage_factor",
    "decide",
    "decide_by",
    "drift",
    "effective_dof",
    "en_number",
    "en_satisfactory",
    "evaluate_many",
    "f_tail",
    "first_order_law",
    "fit_line",
    "fit_polynomial",
    "fit_polynomial_through_origin",
    "fit_through_origin",
    "global_risk",
    "group_statistics",
    "improvement",
    "mean_and_sd",
    "mean_and_u",
    "monte_carlo",
    "normal_cdf",
    "normal_quantile",
    "numerical_tolerance",
    "settle",
    "t_cdf",
    "t_quantile",
    "validate",
]
