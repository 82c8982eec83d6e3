"""All settings of the site. Every value that differs between installs comes from the environment.

`.env` beside manage.py is read first if it is there; real environment variables win over it.
"""

from urllib.parse import urlsplit

import environ
import structlog
from csp.constants import NONCE, SELF

from practice import logs
from practice.env import (
    BASE_DIR,
    data_dir,
    env_bool,
    env_int,
    env_secret,
    env_text,
    read_env_file,
    secret_key_file,
)

read_env_file()
DATA_DIR = data_dir()

DEBUG = env_bool("DEBUG", default=False)
SECRET_KEY = env_secret("SECRET_KEY", kept_in=secret_key_file())

# One address decides hosts, CSRF origins and share links, so they cannot disagree.
SITE_URL = env_text("SITE_URL", "http://localhost:8000").rstrip("/")
_site = urlsplit(SITE_URL)
IS_HTTPS = _site.scheme == "https"
ALLOWED_HOSTS = [_site.hostname or "localhost", "localhost", "127.0.0.1", "[::1]"]
ALLOWED_HOSTS += [h for h in env_text("EXTRA_HOSTS", "").split(",") if h]
CSRF_TRUSTED_ORIGINS = [SITE_URL]

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django.forms",
    "axes",
    "csp",
    "django_filters",
    "django_htmx",
    "drf_spectacular",
    "drf_spectacular_sidecar",
    "rest_framework",
    "rest_framework.authtoken",
    "simple_history",
    "horses.apps.HorsesConfig",
    "fitting.apps.FittingConfig",
    "practice.apps.PracticeConfig",
]

MIDDLEWARE = [
    "practice.logs.RequestLogMiddleware",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "practice.middleware.SignInEverywhereMiddleware",
    "practice.middleware.PracticeTimeZoneMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "simple_history.middleware.HistoryRequestMiddleware",
    "axes.middleware.AxesMiddleware",
]

ROOT_URLCONF = "practice.urls"
WSGI_APPLICATION = "practice.wsgi.application"

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
                "csp.context_processors.nonce",
                "practice.context.practice_settings",
            ],
            "builtins": ["practice.templatetags.units", "practice.templatetags.ledger"],
        },
    },
]
FORM_RENDERER = "django.forms.renderers.TemplatesSetting"

# --- Database -----------------------------------------------------------------------------------
# SQLite's own defaults lose writes under concurrency; these options were measured not to.
SQLITE_OPTIONS = {
    "transaction_mode": "IMMEDIATE",
    "timeout": 20,
    "init_command": ("PRAGMA journal_mode=WAL;PRAGMA synchronous=NORMAL;PRAGMA foreign_keys=ON;"),
}
_database = environ.Env.db_url_config(
    env_text("DATABASE_URL", f"sqlite:///{DATA_DIR / 'backledger.sqlite3'}")
)
_database["PASSWORD"] = env_text("DATABASE_PASSWORD", _database.get("PASSWORD") or "")
if _database["ENGINE"] == "django.db.backends.sqlite3":
    _database["OPTIONS"] = SQLITE_OPTIONS
else:
    _database["CONN_MAX_AGE"] = 60
    _database["CONN_HEALTH_CHECKS"] = True
DATABASES = {"default": _database}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# --- Sign-in ------------------------------------------------------------------------------------
AUTH_USER_MODEL = "practice.User"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": f"django.contrib.auth.password_validation.{name}"}
    for name in (
        "UserAttributeSimilarityValidator",
        "MinimumLengthValidator",
        "CommonPasswordValidator",
        "NumericPasswordValidator",
    )
]
LOGIN_URL = "sign_in"
LOGIN_REDIRECT_URL = "today"
LOGOUT_REDIRECT_URL = "sign_in"
AXES_FAILURE_LIMIT = env_int("SIGN_IN_ATTEMPTS", default=6)
AXES_COOLOFF_TIME = env_int("SIGN_IN_PAUSE_HOURS", default=1)
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_LOCKOUT_TEMPLATE = "practice/sign_in_locked.html"
AXES_RESET_ON_SUCCESS = True
AXES_VERBOSE = False
AXES_DISABLE_ACCESS_LOG = True  # nobody reads who signed in when from where, so it is not kept
# Behind a proxy the client's address is in X-Forwarded-For; trusted only when this says so.
AXES_IPWARE_PROXY_COUNT = env_int("PROXY_COUNT", default=0)
AXES_IPWARE_META_PRECEDENCE_ORDER = (
    ["HTTP_X_FORWARDED_FOR", "REMOTE_ADDR"] if AXES_IPWARE_PROXY_COUNT else ["REMOTE_ADDR"]
)

# --- Security -----------------------------------------------------------------------------------
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = IS_HTTPS
SESSION_COOKIE_AGE = 60 * 60 * 24 * 14
SECURE_SSL_REDIRECT = IS_HTTPS  # behind a proxy this needs its X-Forwarded-Proto
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if AXES_IPWARE_PROXY_COUNT else None
SECURE_HSTS_SECONDS = 60 * 60 * 24 * 365 if IS_HTTPS else 0
# HSTS speaks for this host only: other sites of the same domain are not ours to cut off for a year.
SILENCED_SYSTEM_CHECKS = ["security.W005", "security.W021"]
SECURE_REDIRECT_EXEMPT = [r"^healthz$"]  # asked from inside the container, without TLS
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
CSRF_FAILURE_VIEW = "practice.views.errors.csrf_failure"
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "script-src": [SELF, NONCE],
        # Plotly places its layers with inline styles; without this they cover the page.
        "style-src": [SELF, "'unsafe-inline'"],
        "img-src": [SELF, "data:", "blob:"],
        "worker-src": [SELF, "blob:"],
        "object-src": ["'none'"],
        "base-uri": [SELF],
        "form-action": [SELF],
        "frame-ancestors": ["'none'"],
    }
}

# --- Language, time, files ----------------------------------------------------------------------
LANGUAGE_CODE = "en"
USE_I18N = True
USE_TZ = True
TIME_ZONE = env_text("TIME_ZONE", "UTC")
STATIC_URL = "static/"
STATIC_ROOT = DATA_DIR / "static"
STATICFILES_FINDERS = [
    "django.contrib.staticfiles.finders.FileSystemFinder",
    "django.contrib.staticfiles.finders.AppDirectoriesFinder",
    "practice.finders.PlotlyFinder",
]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": (
            "django.contrib.staticfiles.storage.StaticFilesStorage"
            if DEBUG
            else "whitenoise.storage.CompressedManifestStaticFilesStorage"
        )
    },
}
WHITENOISE_USE_FINDERS = DEBUG
MEDIA_ROOT = DATA_DIR / "media"
MESSAGE_STORAGE = "django.contrib.messages.storage.session.SessionStorage"

# --- Background work ----------------------------------------------------------------------------
# Without a broker, messages are files in a folder and one worker on this machine reads them.
BROKER_URL = env_text("BROKER_URL", "")
QUEUE_DIR = DATA_DIR / "queue"
CELERY_BROKER_URL = BROKER_URL or "filesystem://localhost"
if not BROKER_URL:
    for _name in ("messages", "control"):
        (QUEUE_DIR / _name).mkdir(parents=True, exist_ok=True)
    CELERY_BROKER_TRANSPORT_OPTIONS = {
        "data_folder_in": str(QUEUE_DIR / "messages"),
        "data_folder_out": str(QUEUE_DIR / "messages"),
        "control_folder": str(QUEUE_DIR / "control"),
        "polling_interval": 0.2,  # the default of a second makes short tasks wait
    }
CELERY_TASK_ALWAYS_EAGER = env_bool("RUN_JOBS_IN_REQUEST", default=False)
CELERY_TASK_IGNORE_RESULT = True  # our own Job rows are the truth
CELERY_TASK_ACKS_LATE = True
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_TIMEZONE = "UTC"
CELERY_BEAT_SCHEDULE = {
    "take-up-stale-jobs": {"task": "horses.tasks.take_up_stale_jobs", "schedule": 60.0},
}

# What each kind of job runs: a service that takes the job. Named here, so that nothing below
# `practice` needs to know what stands above it.
JOB_KINDS = {
    "evaluate_fit": "fitting.services.evaluations.run_evaluation",
    "sweep_fit": "fitting.services.sensitivity.run_sensitivity",
    "read_scan": "horses.services.scans.run_reading",
    "measure_scan": "horses.services.scans.run_measuring",
}

# --- API ----------------------------------------------------------------------------------------
REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "rest_framework.authentication.TokenAuthentication",
        "rest_framework.authentication.SessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["practice.access.MayUseApi"],
    "DEFAULT_PAGINATION_CLASS": "rest_framework.pagination.PageNumberPagination",
    "PAGE_SIZE": 50,
    "DEFAULT_FILTER_BACKENDS": ["django_filters.rest_framework.DjangoFilterBackend"],
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["rest_framework.parsers.JSONParser"],
    "EXCEPTION_HANDLER": "practice.api.errors.handle",
    "DEFAULT_THROTTLE_CLASSES": [
        "rest_framework.throttling.UserRateThrottle",
        "rest_framework.throttling.AnonRateThrottle",
    ],
    "DEFAULT_THROTTLE_RATES": {"user": "600/min", "anon": "30/min"},
    # Otherwise anyone gets a fresh count of tries by sending another X-Forwarded-For.
    "NUM_PROXIES": AXES_IPWARE_PROXY_COUNT,
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Backledger API",
    "DESCRIPTION": "Horses, measurements, soreness checks, saddles, trees, visits and evaluations.",
    "VERSION": "1",
    "SERVE_INCLUDE_SCHEMA": False,
    "SCHEMA_PATH_PREFIX": "/api/v1",
    "COMPONENT_SPLIT_REQUEST": True,
    "POSTPROCESSING_HOOKS": [
        "drf_spectacular.hooks.postprocess_schema_enums",
        "practice.api.schema.document_failures",
    ],
    "ENUM_NAME_OVERRIDES": {
        "HorseStateEnum": "horses.models.horse.Horse.State",
        "TreeKindEnum": "fitting.models.tack.TreeSpec.Kind",
        "TreeStateEnum": "fitting.models.tack.TreeSpec.State",
        "SaddleKindEnum": "fitting.models.tack.Saddle.Kind",
        "EvaluationStateEnum": "fitting.models.pairing.FitEvaluation.State",
        "VisitKindEnum": "practice.models.visits.Visit.Kind",
        "VisitStateEnum": "practice.models.visits.Visit.State",
        "SideEnum": "horses.models.base.Side",
        "PairedSideEnum": "practice.api.schema.PAIRED_SIDES",
    },
    "SERVE_PERMISSIONS": ["practice.access.MayUseApi"],
}

# --- Mail ---------------------------------------------------------------------------------------
EMAIL_CONFIG = environ.Env.email_url_config(env_text("EMAIL_URL", "consolemail://"))
vars().update(EMAIL_CONFIG)
DEFAULT_FROM_EMAIL = env_text("MAIL_FROM", "backledger@localhost")

# --- Logs: one JSON line per event, with ids and never names, weights or addresses ---------------
structlog.configure(
    processors=[
        structlog.contextvars.merge_contextvars,
        structlog.stdlib.add_log_level,
        structlog.processors.TimeStamper(fmt="iso", utc=True),
        structlog.stdlib.ProcessorFormatter.wrap_for_formatter,
    ],
    logger_factory=structlog.stdlib.LoggerFactory(),
    cache_logger_on_first_use=True,
)
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"json": logs.formatter()},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "json"}},
    "root": {"handlers": ["console"], "level": env_text("LOG_LEVEL", "WARNING")},
    "loggers": {
        "backledger": {"level": "INFO"},
        "backledger.requests": {"level": env_text("LOG_LEVEL", "WARNING")},
    },
}

# --- Ours ---------------------------------------------------------------------------------------
IS_DEMO = env_bool("IS_DEMO", default=False)
ENGINE_COMPILED = env_bool("ENGINE_COMPILED", default=False)
SHARE_LINK_DAYS = env_int("SHARE_LINK_DAYS", default=180)
