"""Every setting, each read by a typed reader; a bad value stops the start with one sentence.

Variables are listed in .env.example. Nothing is needed to try the system: the defaults run it on one machine.
"""

import os
import secrets
from datetime import timedelta
from pathlib import Path

import pghistory
from django.utils.functional import SimpleLazyObject

from labrecords import database
from labrecords.errors import SettingRefused

ROOT = Path(__file__).resolve().parent.parent


def _text(name, default=""):
    return os.environ.get(name, default).strip()


def _flag(name, default=False):
    value = _text(name, "1" if default else "0").lower()
    if value not in {"0", "1", "true", "false", "yes", "no", "on", "off"}:
        raise SettingRefused(name=name, value=value, rule="is neither yes nor no")
    return value in {"1", "true", "yes", "on"}


def _names(name, default):
    return [part.strip() for part in _text(name, default).split(",") if part.strip()]


def _file(name):
    """The path of a file that is there and can be read; None where nothing is named."""
    given = _text(name)
    if given and not os.access(given, os.R_OK):
        raise SettingRefused(name=name, value=given, rule="is no file that can be read")
    return Path(given) if given else None


def _number(name, default, low, high):
    value = _text(name, str(default))
    if not (value.isascii() and value.isdecimal() and low <= int(value) <= high):
        raise SettingRefused(name=name, value=value, rule=f"is no whole number from {low} to {high}")
    return int(value)


DATA = Path(_text("LABRECORDS_DATA") or ROOT / "var")  # database, reports, secret key
DEBUG = _flag("LABRECORDS_DEBUG")
HTTPS = _flag("LABRECORDS_HTTPS")  # production: a proxy on this machine speaks https and passes requests on
ALLOWED_HOSTS = _names("LABRECORDS_HOSTS", "127.0.0.1,localhost,[::1]")
SECRET_KEY_FILE = DATA / "secret-key"


def _secret_key():
    """From the variable, else from the data folder, made there once; a read-only folder gets a passing key."""
    given = _text("LABRECORDS_SECRET_KEY")
    if given:
        return given
    try:
        return SECRET_KEY_FILE.read_text().strip()
    except OSError:
        key = secrets.token_urlsafe(50)
    try:
        DATA.mkdir(parents=True, exist_ok=True)
        with open(os.open(SECRET_KEY_FILE, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as file:
            file.write(key)
        if os.geteuid() == 0:  # started once by root, the folder's owner must still be able to read it
            os.chown(SECRET_KEY_FILE, DATA.stat().st_uid, DATA.stat().st_gid)
    except OSError:
        pass
    return key


SECRET_KEY = SimpleLazyObject(_secret_key)  # `manage.py verify_report` needs none, and makes no folder for it

# Seals issued reports; without it the lab makes its own certificate in the data folder.
CERTIFICATE_FILE = _file("LABRECORDS_CERTIFICATE")
CERTIFICATE_PASSWORD_FILE = _file("LABRECORDS_CERTIFICATE_PASSWORD_FILE")

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "pgtrigger",
    "pghistory",
    "rest_framework",
    "knox",
    "axes",
    "django_otp",
    "django_otp.plugins.otp_totp",
    "csp",
    "drf_spectacular",
    "django_htmx",
    "labrecords",
]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "labrecords.web.gate.Visit",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "labrecords.web.gate.Gate",
    # Every page asks for a sign-in unless it says otherwise; the API's views have permissions of their own.
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    # Then each page asks whether it is open to the person's role; the API's views ask by the permission below.
    "labrecords.web.doors.Doors",
    "labrecords.web.unseen.Shown",
    "labrecords.web.refusal.RefusalPage",
    "axes.middleware.AxesMiddleware",
]
ROOT_URLCONF = "labrecords.urls"
WSGI_APPLICATION = "labrecords.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
            ]
        },
    }
]

DATABASES = {"default": database.connection_settings(_text("DATABASE_URL"), DATA, _text("LABRECORDS_OWNER_URL"))}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "labrecords.Person"
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
]
AUTHENTICATION_BACKENDS = ["labrecords.sign_in.Throttle", "django.contrib.auth.backends.ModelBackend"]
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "today"
LOGOUT_REDIRECT_URL = "sign-in"

# Limits on guessing; their measures stand in labrecords/sign_in.py. A block ends this long after the last failure that
# was counted, and what is tried while it lasts is not counted.
AXES_COOLOFF_TIME = timedelta(minutes=_number("LABRECORDS_BLOCK_MINUTES", 15, 1, 1440))
AXES_HANDLER = "labrecords.sign_in.Attempts"
AXES_FAILURE_LIMIT = 5
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_LOCKOUT_CALLABLE = "labrecords.sign_in.as_answered"
AXES_USERNAME_CALLABLE = "labrecords.sign_in.username_of"
AXES_CLIENT_IP_CALLABLE = "labrecords.sign_in.address_of"
AXES_RESET_ON_SUCCESS = True
AXES_RESET_COOL_OFF_ON_FAILURE_DURING_LOCKOUT = False
AXES_DISABLE_ACCESS_LOG = True  # sign-ins stand in the security log
AXES_VERBOSE = False

# A session ends when nobody has used it for this long, and at the latest this long after the sign-in.
SESSION_IDLE = timedelta(minutes=_number("LABRECORDS_SESSION_IDLE_MINUTES", 60, 5, 720))
SESSION_LONGEST = timedelta(hours=_number("LABRECORDS_SESSION_HOURS", 12, 1, 24))
TOKEN_DAYS = _number("LABRECORDS_TOKEN_DAYS", 90, 1, 365)  # the longest that an API token may be valid
SESSION_COOKIE_AGE = int(SESSION_LONGEST.total_seconds())
SESSION_COOKIE_HTTPONLY = CSRF_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = HTTPS
SESSION_COOKIE_NAME, CSRF_COOKIE_NAME = (
    ("__Host-session", "__Host-csrf") if HTTPS else ("labrecords-session", "labrecords-csrf")
)
MESSAGE_STORAGE = "django.contrib.messages.storage.session.SessionStorage"  # one cookie less

SECURE_SSL_REDIRECT = HTTPS
SECURE_HSTS_SECONDS = 365 * 24 * 3600 if HTTPS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = HTTPS
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": ["'self'"],
        "object-src": ["'none'"],
        "base-uri": ["'none'"],
        "frame-ancestors": ["'none'"],
        "form-action": ["'self'"],
    }
}

LANGUAGE_CODE = "en-gb"
TIME_ZONE = _text("LABRECORDS_TIME_ZONE", "UTC")
USE_TZ = True
USE_I18N = False
STATIC_URL = "static/"
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = DEBUG
# A run of 60 drops × 3 quantities × (value, qualifier, remark) is far below this; Django's 1 000 is not.
DATA_UPLOAD_MAX_NUMBER_FIELDS = 5000
# One file a form, of a capped size (labrecords/actions/content.py says which); the web server in front caps it too.
DATA_UPLOAD_MAX_NUMBER_FILES = 1
FILE_UPLOAD_HANDLERS = [
    "labrecords.uploads.Capped",
    "django.core.files.uploadhandler.MemoryFileUploadHandler",
    "django.core.files.uploadhandler.TemporaryFileUploadHandler",
]

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "labrecords.api.authentication.ScopedToken",
        "rest_framework.authentication.SessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": [
        "rest_framework.permissions.IsAuthenticated",
        "labrecords.api.admission.MayLook",
    ],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["labrecords.api.parsers.StrictJson"],
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "EXCEPTION_HANDLER": "labrecords.api.refusals.answer",
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Coating lab records",
    "VERSION": "1",
    "SERVE_INCLUDE_SCHEMA": False,
    "SCHEMA_PATH_PREFIX": "/api/",
}

# Who and why: a row that is written without a context is refused by the database (see labrecords/trail.py).
PGHISTORY_CONTEXT_FIELD = pghistory.ContextForeignKey(null=False)
PGHISTORY_DEFAULT_TRACKERS = (pghistory.InsertEvent(), pghistory.UpdateEvent(), pghistory.DeleteEvent())
PGHISTORY_APPEND_ONLY = True

SECURITY_LOG = DATA / "logs" / "security.log"
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"()": "labrecords.security.Line"}},
    "handlers": {
        "console": {"class": "logging.StreamHandler"},
        "security-console": {"class": "logging.StreamHandler", "formatter": "line", "level": "WARNING"},
        "security-file": {
            "class": "labrecords.security.LogFile",
            "formatter": "line",
            "filename": str(SECURITY_LOG),
            "maxBytes": 10 * 2**20,
            "backupCount": 20,
            "delay": True,
            "encoding": "utf-8",
        },
        "security-table": {"class": "labrecords.security.LogTable"},
    },
    "loggers": {
        "labrecords.security": {
            "handlers": ["security-console", "security-file", "security-table"],
            "level": "INFO",
            "propagate": False,
        },
        # What Django itself takes for an attack: a form without token, a foreign host name.
        "django.security": {
            "handlers": ["security-console", "security-file", "security-table"],
            "level": "WARNING",
            "propagate": False,
        },
        "axes": {"level": "ERROR"},  # it says the same again
    },
    "root": {"handlers": ["console"], "level": "WARNING"},
}
