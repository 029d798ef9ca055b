"""What `manage.py check --deploy` looks at beyond Django's own checks."""

from django.conf import settings
from django.core.checks import Tags, Warning, register
from django.db import DatabaseError, connections

MOST_UPLOAD = 20 * 2**20
NONE, SELF = ["'none'"], ["'self'"]
STRICT = {"default-src": SELF, "object-src": NONE, "base-uri": NONE, "frame-ancestors": NONE, "form-action": SELF}


def _warning(number, text):
    return Warning(text, id=f"labrecords.W{number:03d}")


@register(Tags.security, deploy=True)
def policy_is_strict(app_configs, **options):
    found = (getattr(settings, "CONTENT_SECURITY_POLICY", None) or {}).get("DIRECTIVES", {})
    weak = [name for name, sources in STRICT.items() if found.get(name) != sources]
    weak += [name for name, sources in found.items() if {"'unsafe-inline'", "'unsafe-eval'", "*"} & set(sources)]
    if "csp.middleware.CSPMiddleware" not in settings.MIDDLEWARE:
        weak.append("csp.middleware.CSPMiddleware")
    return [_warning(1, f"The content security policy is not strict: {', '.join(weak)}.")] if weak else []


@register(Tags.security, deploy=True)
def sessions_end(app_configs, **options):
    idle, longest = settings.SESSION_IDLE, settings.SESSION_LONGEST
    is_enforced = "labrecords.web.gate.Gate" in settings.MIDDLEWARE
    if is_enforced and idle <= longest and longest.total_seconds() <= 24 * 3600:
        return []
    return [_warning(2, "Sessions have no idle limit and no longest time of at most a day.")]


@register(Tags.security, deploy=True)
def requests_are_limited(app_configs, **options):
    sizes = (settings.DATA_UPLOAD_MAX_MEMORY_SIZE, settings.FILE_UPLOAD_MAX_MEMORY_SIZE)
    counts = (settings.DATA_UPLOAD_MAX_NUMBER_FIELDS, settings.DATA_UPLOAD_MAX_NUMBER_FILES)
    if all(size and size <= MOST_UPLOAD for size in sizes) and all(count and count <= 10_000 for count in counts):
        return []
    return [_warning(3, "The size of a request or the number of its fields and files has no limit.")]


@register(Tags.security, deploy=True)
def guessing_is_limited(app_configs, **options):
    from labrecords.sign_in import Attempts, Throttle

    first = settings.AUTHENTICATION_BACKENDS[0] == f"{Throttle.__module__}.{Throttle.__name__}"
    counts = settings.AXES_ENABLED and f"{Attempts.__module__}.{Attempts.__name__}" == settings.AXES_HANDLER
    return [] if first and counts else [_warning(4, "Failed sign-ins are not counted and not limited.")]


@register(Tags.security, deploy=True)
def cookies_are_bound_to_the_host(app_configs, **options):
    names = (settings.SESSION_COOKIE_NAME, settings.CSRF_COOKIE_NAME)
    if all(name.startswith("__Host-") for name in names):
        return []
    return [_warning(5, "Cookies are not bound to this host by their name: set LABRECORDS_HTTPS=1.")]


@register(Tags.database, deploy=True)
def working_role_owns_no_record(app_configs, databases=None, **options):
    """Asks the database, so only where one is named: `check --deploy --database default`."""
    problems = []
    for alias in databases or []:
        try:
            with connections[alias].cursor() as cursor:
                cursor.execute(
                    "SELECT count(*) FROM pg_tables WHERE tablename LIKE 'labrecords\\_%' AND tableowner = current_user"
                )
                owned = cursor.fetchone()[0]
        except DatabaseError as problem:
            problems.append(_warning(6, f"The database could not be asked whose its tables are: {problem}"))
            continue
        if owned:
            problems.append(_warning(6, f"The database's working role owns {owned} tables: it could alter the trail."))
    return problems
