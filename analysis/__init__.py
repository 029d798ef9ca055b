"""What is computed: the front door, and the only names that the record system may import.

No Django, no clock and no files in here: a stored run, batch or specification goes in as a frozen record,
statistics, checks and verdicts come out as plain data.
"""

from analysis.batch import analyse_batch
from analysis.criteria import CRITERION_KINDS, judge
from analysis.method import Method, ReadingKind, Setting
from analysis.methods import METHODS
from analysis.methods import register as register_method
from analysis.problems import Problem, reading_problems
from analysis.quantities import QUANTITIES, Quantity
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

CODE_VERSION = "2026.1"  # stored beside every result; raised whenever a formula changes

__all__ = [
    "CANNOT_TELL",
    "CODE_VERSION",
    "CONTROL",
    "CRITERION_KINDS",
    "DOES_NOT_HOLD",
    "FAIL",
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
    "SOURCES",
    "TREATED",
    "BatchGroup",
    "BatchResult",
    "Check",
    "CouponValue",
    "Criterion",
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
    "judge",
    "reading_problems",
    "register_method",
]
