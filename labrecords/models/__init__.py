"""What is stored, one noun a file."""

from labrecords.models.assessment import Assessment, AssessmentVersion
from labrecords.models.attachment import Attachment, StoredFile
from labrecords.models.batch import Batch, BatchMember, Deviation, ProcessedCoupon, ProcessLot, ProcessRecord
from labrecords.models.coupon import Coupon
from labrecords.models.criterion import Criterion, CriterionRevision, CriterionSet
from labrecords.models.data_sheet import DataSheet
from labrecords.models.instrument import Calibration, Instrument, MethodVersion
from labrecords.models.laboratory import Laboratory, Project, ProjectMember
from labrecords.models.link import Link
from labrecords.models.liquid import BathLot, ChallengeLiquid, LiquidLot, Lubricant, LubricantLot, Property
from labrecords.models.material import SubstrateLot
from labrecords.models.person import Person
from labrecords.models.qualification import Analysis, Qualification
from labrecords.models.recipe import Recipe, RecipeRevision, RecipeStep
from labrecords.models.release import Release
from labrecords.models.request import AnsweredRequest
from labrecords.models.run import Reading, RunOperator, TestRun
from labrecords.models.sign_in import ApiToken, SecurityEvent
from labrecords.models.signature import Signature

__all__ = [
    "Analysis",
    "AnsweredRequest",
    "ApiToken",
    "Assessment",
    "AssessmentVersion",
    "Attachment",
    "Batch",
    "BatchMember",
    "BathLot",
    "Calibration",
    "ChallengeLiquid",
    "Coupon",
    "Criterion",
    "CriterionRevision",
    "CriterionSet",
    "DataSheet",
    "Deviation",
    "Instrument",
    "Laboratory",
    "Link",
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
    "Release",
    "RunOperator",
    "SecurityEvent",
    "Signature",
    "StoredFile",
    "SubstrateLot",
    "TestRun",
]
