from labrecords.actions.rows import write
from labrecords.models import Project
from labrecords.trail import verb


@verb
def start(*, by, why="new project", code, title, customer="", customer_contact=""):
    return write(Project(code=code, title=title, customer=customer, customer_contact=customer_contact), by)
