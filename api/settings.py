"""Django's settings, all taken from the environment; README.md lists the variables.

Importing this module starts nothing. The defaults are those of a server that others can reach:
no debugging pages, short rights, cookies over HTTPS wherever a name other than this machine's own
is served.
"""

from pathlib import Path

import django_stubs_ext
import environ
from django.core.exceptions import ImproperlyConfigured

from api.database.address import database_at
from api.secret_key import kept_secret_key

django_stubs_ext.monkeypatch()  # Django's classes may name their types: ModelAdmin[Case]
env = environ.Env()

REPOSITORY = Path(__file__).resolve().parent.parent
DATA_FOLDER = Path(env.str("COPPERLOG_DATA", str(REPOSITORY / "var"))).resolve()

DEBUG = env.bool("COPPERLOG_DEBUG", False)
LOOPBACK_HOSTS = ["localhost", "127.0.0.1", "[::1]"]
ALLOWED_HOSTS = env.list("COPPERLOG_HOSTS", default=LOOPBACK_HOSTS)
SERVES_OTHERS = not set(ALLOWED_HOSTS) <= set(LOOPBACK_HOSTS)
if DEBUG and SERVES_OTHERS:
    raise ImproperlyConfigured(
        "COPPERLOG_DEBUG shows passers-by the insides of the program, so it is refused while"
        f" COPPERLOG_HOSTS names more than this machine: {', '.join(ALLOWED_HOSTS)}. Unset one."
    )
SECRET_KEY = env.str("COPPERLOG_SECRET_KEY", "") or kept_secret_key(DATA_FOLDER)

INSTALLED_APPS = [
    "api",  # before django.contrib, whose commands and templates it may replace
    "procrastinate.contrib.django",  # before the apps whose jobs it runs
    "cases",
    "circuits",
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "axes",
    "django_filters",
    "django_htmx",
    "rest_framework",
    "drf_spectacular",
    "drf_spectacular_sidecar",
]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "api.security.ContentSecurityPolicyMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "axes.middleware.AxesMiddleware",
]
ROOT_URLCONF = "api.urls"
WSGI_APPLICATION = "api.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [REPOSITORY / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
            ],
        },
    },
]

# The database: DATABASE_URL, or else the server that starts by itself in the data folder.
DATABASE_URL = env.str("DATABASE_URL", "")
database = (
    database_at(DATABASE_URL)
    if DATABASE_URL
    else {"ENGINE": "api.database", "NAME": "copperlog", "EMBEDDED_FOLDER": DATA_FOLDER}
)
DATABASES = {"default": {**database, "CONN_MAX_AGE": 60, "CONN_HEALTH_CHECKS": True}}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# Who may come in.
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "sign-in"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
PASSWORD_HASHERS = ["api.passwords.SmallArgon2"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": f"django.contrib.auth.password_validation.{name}"}
    for name in (
        "UserAttributeSimilarityValidator",
        "MinimumLengthValidator",
        "CommonPasswordValidator",
        "NumericPasswordValidator",
    )
]
# After ten wrong passwords that name is shut out from that address for a quarter of an hour.
# Name and address together: neither can a stranger lock a colleague out, nor one colleague all.
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_FAILURE_LIMIT = 10
AXES_COOLOFF_TIME = 0.25  # hours
AXES_RESET_ON_SUCCESS = True
AXES_LOCKOUT_TEMPLATE = "locked_out.html"
AXES_CLIENT_IP_CALLABLE = "api.security.client_address"

# HTTPS, cookies, headers.
HTTPS = env.bool("COPPERLOG_HTTPS", SERVES_OTHERS)
PROXIES = env.int("COPPERLOG_PROXIES", 0)  # reverse proxies of ours that a request passes
if PROXIES:
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
SECURE_SSL_REDIRECT = HTTPS
SECURE_REDIRECT_EXEMPT = [r"^healthz$", r"^readyz$"]
SECURE_HSTS_SECONDS = 30 * 24 * 3600 if HTTPS else 0
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = HTTPS
CSRF_TRUSTED_ORIGINS = [
    f"https://{host.replace('.', '*.', 1) if host.startswith('.') else host}"
    for host in ALLOWED_HOSTS
    if host != "*"
]
X_FRAME_OPTIONS = "DENY"

# REST.
REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "api.tokens.TokenAuthentication",  # first, so that nobody signed in is a 401
        "rest_framework.authentication.SessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": [
        "rest_framework.permissions.IsAuthenticated",
        "api.tokens.TokenMayWrite",
    ],
    "DEFAULT_FILTER_BACKENDS": ["api.views.lists.KnownFilters"],
    "DEFAULT_PAGINATION_CLASS": "api.views.lists.Pages",
    "DEFAULT_PARSER_CLASSES": ["api.parsers.JsonParser"],
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "EXCEPTION_HANDLER": "api.errors.exception_handler",
    "DEFAULT_METADATA_CLASS": None,  # OPTIONS is no way to ask; /api/schema/ says it all
    "TEST_REQUEST_DEFAULT_FORMAT": "json",
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Copperlog",
    "DESCRIPTION": "Vehicle-electrics cases, checked against the circuits they happened in.",
    "VERSION": "1",
    "OAS_VERSION": "3.1.0",
    "SERVE_INCLUDE_SCHEMA": False,
    "SCHEMA_PATH_PREFIX": "/api/",
    "POSTPROCESSING_HOOKS": [
        "drf_spectacular.hooks.postprocess_schema_enums",
        "api.schema.introduce",
        "api.schema.tell_refusals",
    ],
    "SWAGGER_UI_DIST": "SIDECAR",
    "SWAGGER_UI_FAVICON_HREF": "SIDECAR",
    "REDOC_DIST": "SIDECAR",
}

# Background work: a queue in the same database, so that a job is there if and only if the change
# that asked for it is. What was done is taken out; what failed stays for whoever looks.
PROCRASTINATE_WORKER_DEFAULTS = {"concurrency": 1, "delete_jobs": "successful"}

# Static files are served by the program itself, straight from the apps' folders.
STATIC_URL = "static/"
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = DEBUG
WHITENOISE_MAX_AGE = 0 if DEBUG else 300

# Language and time: pages speak English, times are kept in UTC.
LANGUAGE_CODE = "en"
USE_I18N = True
USE_TZ = True
TIME_ZONE = "UTC"

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["console"], "level": env.str("COPPERLOG_LOG_LEVEL", "WARNING")},
    "loggers": {"django": {"handlers": ["console"], "level": "WARNING", "propagate": False}},
}
