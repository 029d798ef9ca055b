"""Many operations of one migration at once.

Django renders the models of the whole project anew after every single operation, which with a trail of every table
made a first start take most of a minute. Here they are rendered once before and once after all of them.
"""

from django.db.migrations.operations.base import Operation
from django.db.migrations.operations.models import CreateModel

TABLES = 1


def _turn(operation):
    """Triggers name columns: old ones go before the tables change, new ones come after."""
    return {"RemoveTrigger": 0, "AddTrigger": 2}.get(type(operation).__name__, TABLES)


class AtOnce(Operation):
    """`operations` as makemigrations writes them. What belongs to a table made here is made with its table."""

    reversible = False

    def __init__(self, operations):
        self.operations = operations

    def deconstruct(self):
        return (type(self).__name__, [self.operations], {})

    def state_forwards(self, app_label, state):
        state.__dict__.pop("apps", None)  # or each operation would render again
        for operation in self.operations:
            operation.state_forwards(app_label, state)

    def database_forwards(self, app_label, schema_editor, from_state, to_state):
        made = {operation.name_lower for operation in self.operations if isinstance(operation, CreateModel)}
        for operation in sorted(self.operations, key=_turn):
            if _turn(operation) != TABLES or getattr(operation, "model_name_lower", "") not in made:
                operation.database_forwards(app_label, schema_editor, from_state, to_state)

    def describe(self):
        return f"{len(self.operations)} changes at once"
