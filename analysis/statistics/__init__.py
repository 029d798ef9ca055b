"""Statistics of coupons and their readings: the front door of the sub-package."""

from analysis.statistics.crossing import (
    LevelCrossing,
    LinearCrossing,
    level_crossing,
    linear_crossing,
)
from analysis.statistics.fits import (
    CurveFit,
    nonlinear_fit,
)
from analysis.statistics.moments import (
    AnalysisOfVariance,
    lag_one_autocorrelation,
    one_way_anova,
    sample_sd,
    stable_mean,
)
from analysis.statistics.outliers import (
    Outliers,
    OutlierStep,
    OutlierTest,
    cochran_critical,
    cochran_test,
    esd_critical,
    flag_outliers,
    grubbs_critical,
    grubbs_test,
    outlier_class,
    studentized_deviation,
)
from analysis.statistics.precision import (
    CellConsistency,
    Precision,
    PrecisionReport,
    cell_consistency,
    cell_precision,
    mandel_h_critical,
    mandel_k_critical,
    precision_report,
)
from analysis.statistics.regression import (
    LinearFit,
    LogFit,
    linear_fit,
    log_linear_fit,
    log_log_fit,
    polynomial_fit,
)
from analysis.statistics.replication import (
    MeanInterval,
    VarianceComponents,
    mean_interval,
    variance_components,
)

__all__ = [
    "AnalysisOfVariance",
    "CellConsistency",
    "CurveFit",
    "LevelCrossing",
    "LinearCrossing",
    "LinearFit",
    "LogFit",
    "MeanInterval",
    "OutlierStep",
    "OutlierTest",
    "Outliers",
    "Precision",
    "PrecisionReport",
    "VarianceComponents",
    "cell_consistency",
    "cell_precision",
    "cochran_critical",
    "cochran_test",
    "esd_critical",
    "flag_outliers",
    "grubbs_critical",
    "grubbs_test",
    "lag_one_autocorrelation",
    "level_crossing",
    "linear_crossing",
    "linear_fit",
    "log_linear_fit",
    "log_log_fit",
    "mandel_h_critical",
    "mandel_k_critical",
    "mean_interval",
    "nonlinear_fit",
    "one_way_anova",
    "outlier_class",
    "polynomial_fit",
    "precision_report",
    "sample_sd",
    "stable_mean",
    "studentized_deviation",
    "variance_components",
]
