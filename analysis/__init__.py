"""What is computed: the front door, and the only names that the record system may import.

No Django, no clock and no files in here: a stored run, batch or specification goes in as a frozen record,
statistics, checks and verdicts come out as plain data. The formulas themselves stand behind five doors of their
own: `wetting`, `film`, `optics`, `measures` and `statistics`.
"""

from analysis import film, measures, optics, statistics, wetting
from analysis.batch import analyse_batch
from analysis.checks.scope import SCOPE_CHECKS
from analysis.criteria import CRITERION_KINDS, judge
from analysis.explanation import Chain, explain_batch, explain_judgement, explain_run, formula_steps
from analysis.formula import FORMULAS, Formula
from analysis.method import Derived, Exposure, Method, ReadingKind, Setting
from analysis.methods import EXPOSURES, METHODS
from analysis.methods import register as register_method
from analysis.problems import Problem, reading_problems
from analysis.quantities import QUANTITIES, Quantity, quantity_of
from analysis.records import (
    CANNOT_TELL,
    CONTROL,
    DOES_NOT_HOLD,
    FAIL,
    HOLDS,
    INCONCLUSIVE,
    LOST,
    MEASURED,
    MOVED_ON_PLACING,
    NOT_MOVED,
    PASS,
    QUALIFIERS,
    REFERENCE,
    ROLES,
    TREATED,
    BatchGroup,
    BatchResult,
    Check,
    CouponValue,
    Criterion,
    Judgement,
    Material,
    Outcome,
    Reading,
    Run,
    RunResult,
    Statistic,
    Value,
    as_data,
)
from analysis.run import analyse_run
from analysis.sources import SOURCES, Source, citation

CODE_VERSION = "2026.2"  # stored beside every result; raised whenever a formula changes

__all__ = [
    "CANNOT_TELL",
    "CODE_VERSION",
    "CONTROL",
    "CRITERION_KINDS",
    "DOES_NOT_HOLD",
    "EXPOSURES",
    "FAIL",
    "FORMULAS",
    "HOLDS",
    "INCONCLUSIVE",
    "LOST",
    "MEASURED",
    "METHODS",
    "MOVED_ON_PLACING",
    "NOT_MOVED",
    "PASS",
    "QUALIFIERS",
    "QUANTITIES",
    "REFERENCE",
    "ROLES",
    "SCOPE_CHECKS",
    "SOURCES",
    "TREATED",
    "BatchGroup",
    "BatchResult",
    "Chain",
    "Check",
    "CouponValue",
    "Criterion",
    "Derived",
    "Exposure",
    "Formula",
    "Judgement",
    "Material",
    "Method",
    "Outcome",
    "Problem",
    "Quantity",
    "Reading",
    "ReadingKind",
    "Run",
    "RunResult",
    "Setting",
    "Source",
    "Statistic",
    "Value",
    "analyse_batch",
    "analyse_run",
    "as_data",
    "citation",
    "explain_batch",
    "explain_judgement",
    "explain_run",
    "film",
    "formula_steps",
    "judge",
    "measures",
    "optics",
    "quantity_of",
    "reading_problems",
    "register_method",
    "statistics",
    "wetting",
]
