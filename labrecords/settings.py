"""Every setting, each read by a typed reader; a bad value stops the start with one sentence.

Variables are listed in .env.example. Nothing is needed to try the system: the defaults run it on one machine.
"""

import os
import secrets
from pathlib import Path

import pghistory

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


DATA = Path(_text("LABRECORDS_DATA") or ROOT / "var")  # database, reports, secret key
DEBUG = _flag("LABRECORDS_DEBUG")
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


SECRET_KEY = _secret_key()

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
    "drf_spectacular",
    "django_htmx",
    "labrecords",
]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    # Every page asks for a sign-in unless it says otherwise; the API's views have permissions of their own.
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    # Then each page asks whether it is open to the person's role; the API's views ask by the permission below.
    "labrecords.web.doors.Doors",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "labrecords.web.refusal.RefusalPage",
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

DATABASES = {"default": database.connection_settings(_text("DATABASE_URL"), DATA)}
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
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "today"
LOGOUT_REDIRECT_URL = "sign-in"
SESSION_COOKIE_AGE = 12 * 3600
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"

LANGUAGE_CODE = "en-gb"
TIME_ZONE = _text("LABRECORDS_TIME_ZONE", "UTC")
USE_TZ = True
USE_I18N = False
STATIC_URL = "static/"
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = DEBUG
# A run of 60 drops × 3 quantities × (value, qualifier, remark) is far below this; Django's 1 000 is not.
DATA_UPLOAD_MAX_NUMBER_FIELDS = 5000

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "knox.auth.TokenAuthentication",
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

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "handlers": {"console": {"class": "logging.StreamHandler"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
}
