"""Statistics of coupons and their readings: the front door of the sub-package."""

from analysis.statistics.crossing import LevelCrossing, LinearCrossing, level_crossing, linear_crossing
from analysis.statistics.fits import CurveFit, nonlinear_fit
from analysis.statistics.regression import LinearFit, LogFit, linear_fit, log_linear_fit, log_log_fit, polynomial_fit

__all__ = [
    "CurveFit",
    "LevelCrossing",
    "LinearCrossing",
    "LinearFit",
    "LogFit",
    "level_crossing",
    "linear_crossing",
    "linear_fit",
    "log_linear_fit",
    "log_log_fit",
    "nonlinear_fit",
    "polynomial_fit",
]
