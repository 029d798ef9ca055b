"""What an administrator does about a person's sign-in, from the command line."""

from labrecords.access import ROLES
from labrecords.actions import account, people
from labrecords.errors import ReasonMissing
from labrecords.management.acting import ActingCommand
from labrecords.management.commands.add_person import asked_password

OLD = "LABRECORDS_PASSWORD"
VERBS = {
    "role": people.change_role,
    "disable": people.disable,
    "start-password": people.set_start_password,
    "end-sessions": people.end_sessions,
    "lift-block": people.lift_block,
    "reset-second-factor": people.reset_second_factor,
}


class Command(ActingCommand):
    help = "A person's role and sign-in: " + ", ".join(VERBS) + ", or own-password to exchange a start password."
    verb = "people.change_role"

    def add_arguments(self, parser):
        super().add_arguments(parser)
        parser.add_argument("do", choices=[*VERBS, "own-password"])
        parser.add_argument("username")
        parser.add_argument("--role", choices=list(ROLES), help="of the verb role")

    def handle(self, *, do, username, role, by, why, **options):
        person = people.find(username)
        if do == "own-password":
            account.change_password(
                by=person, password=asked_password("Present password", OLD), new_password=asked_password()
            )
            return self.stdout.write(f"{person.username} has another password.")
        if not why:
            raise ReasonMissing()
        done = VERBS[do](by=self.person(by), why=why, person=person, **({"role": role} if do == "role" else {}))
        if do == "start-password":
            return self.stdout.write(f"Start password of {person.username}, shown this once: {done[1]}")
        return self.stdout.write(f"{person.username}: {person.full_name}, {person.role}")
