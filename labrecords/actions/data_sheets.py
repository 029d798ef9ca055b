"""Safety data sheets: recorded with the date on them, withdrawn, and found for the cautions that they belong to."""

from labrecords.actions.hazards import declared
from labrecords.actions.lots import check_day
from labrecords.actions.rows import write
from labrecords.errors import ValueRefused
from labrecords.models import DataSheet
from labrecords.processes import HAZARDS
from labrecords.trail import verb


@verb
def record(*, by, why="data sheet recorded", material, hazards, place, revised_on):
    """An edition of a material's sheet. The newest one counts; earlier ones stay to be seen."""
    if not hazards:
        raise ValueRefused(field="hazards", label="Hazards", value="none", rule="was ticked: a sheet has its cautions")
    row = write(DataSheet(material=material, hazards=declared(hazards), place=place, revised_on=revised_on), by)
    check_day(row.revised_on, field="revised_on", label="Date on the sheet")
    return row


@verb
def withdraw(*, by, why, data_sheet):
    """Mark a sheet as not to be used, with the reason: the material is not in the lab any more, or it was wrong."""
    data_sheet = DataSheet.objects.select_for_update(no_key=True, of=("self",)).get(pk=data_sheet.pk)
    if data_sheet.withdrawn_by_id:
        raise ValueRefused(field="data_sheet", label="Sheet", value=data_sheet, rule="has been withdrawn already")
    data_sheet.withdrawn_by, data_sheet.withdrawn_because = by, why
    return write(data_sheet)


def beside(tags, sheets):
    """Of the sheets in force those that belong to these hazards, and the hazards of substances that have none."""
    tags = [tag for tag in tags if tag in HAZARDS]
    covered = {tag for sheet in sheets for tag in sheet.hazards}
    missing = [HAZARDS[tag] for tag in tags if HAZARDS[tag].is_of_substance and tag not in covered]
    return [sheet for sheet in sheets if {*sheet.hazards} & {*tags}], missing
