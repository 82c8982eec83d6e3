"""The site's own settings, in an environment that belongs to the tests alone.

Whatever the machine's environment or a `.env` file says, tests see these values. Only the database
may be chosen, with TEST_DATABASE_URL (PostgreSQL in CI, otherwise SQLite in memory).
"""

import atexit
import os
import shutil
import tempfile
from importlib import import_module

_data_dir = tempfile.mkdtemp(prefix="backledger-tests-")
atexit.register(shutil.rmtree, _data_dir, ignore_errors=True)
_site_settings = """
    BROKER_URL DATABASE_PASSWORD DATABASE_URL DEBUG EMAIL_URL EXTRA_HOSTS FIRST_USER_NAME
    FIRST_USER_PASSWORD IS_DEMO LOG_LEVEL MAIL_FROM PROXY_COUNT SECRET_KEY SHARE_LINK_DAYS
    SIGN_IN_ATTEMPTS SIGN_IN_PAUSE_HOURS SITE_URL TIME_ZONE
"""
for _name in _site_settings.split():
    os.environ[_name] = os.environ[f"{_name}_FILE"] = ""
os.environ.update(
    DATA_DIR=_data_dir,
    DATABASE_URL=os.environ.get("TEST_DATABASE_URL") or f"sqlite:///{_data_dir}/never-used.sqlite3",
    SECRET_KEY="only-for-tests-" + "x" * 32,
    RUN_JOBS_IN_REQUEST="yes",
)

_site = import_module("practice.settings")
globals().update({name: getattr(_site, name) for name in dir(_site) if name.isupper()})

# Signing in hundreds of times must not cost hundreds of deliberately slow hashes.
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
# A file, not memory: browser tests serve from several threads, and in memory those would share one
# connection and end up inside each other's transactions.
DATABASES = {"default": dict(_site.DATABASES["default"])}
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    DATABASES["default"]["TEST"] = {"NAME": f"{_data_dir}/test.sqlite3"}
# No manifest: a test must not depend on `collectstatic` having been run.
STORAGES = _site.STORAGES | {
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
}
WHITENOISE_USE_FINDERS = True
_site.STATIC_ROOT.mkdir()
