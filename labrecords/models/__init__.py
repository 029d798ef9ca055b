"""What is stored, one noun a file."""

from labrecords.models.batch import Batch, BatchMember, Deviation, ProcessedCoupon, ProcessLot, ProcessRecord
from labrecords.models.coupon import Coupon
from labrecords.models.criterion import Criterion, CriterionRevision, CriterionSet
from labrecords.models.instrument import Calibration, Instrument, MethodVersion
from labrecords.models.laboratory import Laboratory, Project, ProjectMember
from labrecords.models.liquid import BathLot, ChallengeLiquid, LiquidLot, Lubricant, LubricantLot, Property
from labrecords.models.material import SubstrateLot
from labrecords.models.person import Person
from labrecords.models.qualification import Analysis, Qualification
from labrecords.models.recipe import Recipe, RecipeRevision, RecipeStep
from labrecords.models.run import Reading, RunOperator, TestRun

__all__ = [
    "Analysis",
    "Batch",
    "BatchMember",
    "BathLot",
    "Calibration",
    "ChallengeLiquid",
    "Coupon",
    "Criterion",
    "CriterionRevision",
    "CriterionSet",
    "Deviation",
    "Instrument",
    "Laboratory",
    "LiquidLot",
    "Lubricant",
    "LubricantLot",
    "MethodVersion",
    "Person",
    "ProcessLot",
    "ProcessRecord",
    "ProcessedCoupon",
    "Project",
    "ProjectMember",
    "Property",
    "Qualification",
    "Reading",
    "Recipe",
    "RecipeRevision",
    "RecipeStep",
    "RunOperator",
    "SubstrateLot",
    "TestRun",
]
