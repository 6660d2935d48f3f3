"""Settings in one file. Everything that may differ between machines is a BERTH_ACCORD_* variable."""

from __future__ import annotations

import os
from pathlib import Path

import bootstrap_wrapper
import dj_database_url
from csp.constants import NONE, SELF
from django.core.exceptions import ImproperlyConfigured

BASE_DIR = Path(__file__).resolve().parent.parent


def flag(name: str, default: bool) -> bool:
    """Read a yes/no variable; refuse anything else."""
    text = os.environ.get(name, "yes" if default else "no").lower()
    if text not in {"yes", "no"}:
        raise ImproperlyConfigured(f"{name} is {text!r}; write yes or no.")
    return text == "yes"


def whole_number(name: str, default: int) -> int:
    """Read a whole number; refuse anything else."""
    text = os.environ.get(name, str(default))
    if not text.isdecimal():
        raise ImproperlyConfigured(f"{name} is {text!r}; write a whole number.")
    return int(text)


DATA_DIR = Path(os.environ.get("BERTH_ACCORD_DATA", BASE_DIR / ".data"))
DEBUG = flag("BERTH_ACCORD_DEBUG", default=False)
SECRET_KEY_FILE = DATA_DIR / "secret.key"
SIGNING_KEY_FILE = Path(os.environ.get("BERTH_ACCORD_SIGNING_KEY", DATA_DIR / "signing.pem"))
# The address of a time-stamping service (RFC 3161); each signature then carries its stamp. Empty: none is asked.
TIMESTAMP_URL = os.environ.get("BERTH_ACCORD_TIMESTAMP_URL", "")
# The trail's head at each plan, outside the database, so that a database restored from an older copy is noticed.
TRAIL_HEADS_FILE: Path | None = DATA_DIR / "trail.heads"


def secret_key() -> str:
    """Take the secret key from the environment or the data folder, where ``manage.py up`` makes it."""
    given = os.environ.get("BERTH_ACCORD_SECRET_KEY")
    if given:
        return given
    if SECRET_KEY_FILE.exists():
        return SECRET_KEY_FILE.read_text(encoding="ascii").strip()
    return ""  # Django itself refuses to sign anything with an empty key


SECRET_KEY = secret_key()
ALLOWED_HOSTS = os.environ.get("BERTH_ACCORD_HOSTS", "localhost,127.0.0.1,[::1]").split(",")
CSRF_TRUSTED_ORIGINS = [origin for origin in os.environ.get("BERTH_ACCORD_ORIGINS", "").split(",") if origin]

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.humanize",
    "django.contrib.messages",
    "django.contrib.sessions",
    "django.contrib.staticfiles",
    "django.forms",
    "csp",
    "crispy_forms",
    "crispy_bootstrap5",
    "django_htmx",
    "lucide",
    "shared",
    "vessels",
    "terminals",
    "compat.assessing",
    "compat.accord",
    "compat.record",
    "compat.api",
    "compat.screening",
    "compat",
]
MIDDLEWARE = [
    "compat.running.logs.RequestLog",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.middleware.gzip.GZipMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "csp.middleware.CSPMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "shared.http.RefusalMiddleware",
    "shared.middleware.FirstThingsMiddleware",
]
ROOT_URLCONF = "compat.urls"
WSGI_APPLICATION = "compat.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
            ],
        },
    }
]
FORM_RENDERER = "django.forms.renderers.TemplatesSetting"
CRISPY_ALLOWED_TEMPLATE_PACKS = "bootstrap5"
CRISPY_TEMPLATE_PACK = "bootstrap5"

SQLITE_OPTIONS = {
    # A deferred transaction that reads and then writes fails at once when another one wrote meanwhile.
    "transaction_mode": "IMMEDIATE",
    "timeout": 20,
    "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL;",
}
DATABASES = {
    "default": dj_database_url.parse(
        os.environ.get("BERTH_ACCORD_DATABASE", f"sqlite:///{DATA_DIR / 'accord.sqlite3'}"),
        conn_max_age=60,
        conn_health_checks=True,
    )
}
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    DATABASES["default"]["ENGINE"] = "shared.sqlite_in_turn"
    DATABASES["default"]["OPTIONS"] = SQLITE_OPTIONS
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "shared.Person"
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "sign-in"
_PASSWORD_CHECKS = "django.contrib.auth.password_validation."
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": _PASSWORD_CHECKS + "UserAttributeSimilarityValidator",
        "OPTIONS": {"user_attributes": ["username", "full_name", "title"]},
    },
    {"NAME": _PASSWORD_CHECKS + "MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": _PASSWORD_CHECKS + "CommonPasswordValidator"},
]

LANGUAGE_CODE = "en-gb"
TIME_ZONE = "UTC"
USE_I18N = True
USE_TZ = True
USE_THOUSAND_SEPARATOR = False

STATIC_URL = "static/"
# ``manage.py up`` gathers style sheets and scripts here, compressed, each under a name that changes with its content.
STATIC_ROOT = os.environ.get("BERTH_ACCORD_STATIC", DATA_DIR / "static")
STATICFILES_DIRS = [("bootstrap", bootstrap_wrapper.get_bootstrap_dir()), BASE_DIR / "templates" / "static"]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}
WHITENOISE_SKIP_COMPRESS_EXTENSIONS = ["map"]

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "img-src": [SELF, "data:"],
        "object-src": [NONE],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
        "form-action": [SELF],
    }
}
WHITENOISE_ALLOW_ALL_ORIGINS = False
# The longest list that facts documents allow (200 observed pairs, 60 runs of pipe) fits in one form.
DATA_UPLOAD_MAX_NUMBER_FIELDS = 5000
SECURE_REFERRER_POLICY = "same-origin"
SESSION_COOKIE_AGE = 12 * 3600  # seconds; a forgotten session on a control room's computer ends with the day
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
_HTTPS = flag("BERTH_ACCORD_HTTPS", default=False)
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = SECURE_SSL_REDIRECT = _HTTPS
SECURE_HSTS_SECONDS = 31_536_000 if _HTTPS else 0
# gunicorn speaks plain HTTP, so HTTPS always means a proxy in front, which says so in this header.
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if _HTTPS else None
# Whether other names under the same domain are HTTPS only is not for this site to decide.
SILENCED_SYSTEM_CHECKS = ["security.W005", "security.W021"]
# Mail is written to the server's own output until a mail server is named.
EMAIL_HOST = os.environ.get("BERTH_ACCORD_MAIL_HOST", "")
EMAIL_BACKEND = f"django.core.mail.backends.{'smtp' if EMAIL_HOST else 'console'}.EmailBackend"
EMAIL_PORT = whole_number("BERTH_ACCORD_MAIL_PORT", default=587)
EMAIL_HOST_USER = os.environ.get("BERTH_ACCORD_MAIL_USER", "")
EMAIL_HOST_PASSWORD = os.environ.get("BERTH_ACCORD_MAIL_SECRET", "")
EMAIL_USE_TLS = flag("BERTH_ACCORD_MAIL_TLS", default=True)
EMAIL_TIMEOUT = 20  # seconds
DEFAULT_FROM_EMAIL = os.environ.get("BERTH_ACCORD_MAIL_FROM", "berth-accord@localhost")
# By which a mail's reader finds this site; ``manage.py up`` sets it to where it listens.
SITE_ADDRESS = os.environ.get("BERTH_ACCORD_SITE", "http://localhost:8000").rstrip("/")

# One line of JSON for each event on standard error. The filter adds the request's id and leaves out addresses.
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "filters": {"request": {"()": "compat.running.logs.RequestFacts"}},
    "formatters": {
        "json": {
            "()": "pythonjsonlogger.json.JsonFormatter",
            "format": "{asctime}{levelname}{name}{message}{request_id}",
            "style": "{",
            "rename_fields": {"asctime": "time", "levelname": "level", "name": "logger"},
        }
    },
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "json", "filters": ["request"]}},
    "root": {"handlers": ["console"], "level": os.environ.get("BERTH_ACCORD_LOG_LEVEL", "WARNING")},
    "loggers": {"django": {"handlers": [], "level": "NOTSET", "propagate": True}},
}
METRICS_TOKEN = os.environ.get("BERTH_ACCORD_METRICS_TOKEN", "")  # empty: there is no page of metrics
API_REQUESTS_PER_MINUTE = int(os.environ.get("BERTH_ACCORD_API_PER_MINUTE", "600"))  # of one token

SCREENING_RUNS = os.environ.get("BERTH_ACCORD_SCREENING", "a process")
if SCREENING_RUNS not in {"a process", "at once"}:
    raise ImproperlyConfigured(f"BERTH_ACCORD_SCREENING is {SCREENING_RUNS!r}; write “a process” or “at once”.")

# Where jobs are handed over for any number of machines (redis://host:6379/0); empty: this machine does them itself.
BROKER = os.environ.get("BERTH_ACCORD_BROKER", "")
if BROKER and not BROKER.startswith(("redis://", "rediss://")):
    raise ImproperlyConfigured("BERTH_ACCORD_BROKER is no address of a Redis server; write redis://host:6379/0.")
