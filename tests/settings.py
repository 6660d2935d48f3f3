"""The project's settings with a key, a folder and a quick hash for tests only."""

import atexit
import os
import shutil
import tempfile

os.environ.setdefault("BERTH_ACCORD_SECRET_KEY", "tests-only-and-never-a-real-installation-0123456789")
if "BERTH_ACCORD_DATA" not in os.environ:
    os.environ["BERTH_ACCORD_DATA"] = tempfile.mkdtemp(prefix="berth-accord-tests-")
    atexit.register(shutil.rmtree, os.environ["BERTH_ACCORD_DATA"], ignore_errors=True)

# Playwright keeps an event loop in the thread of its tests, which Django would take for asynchronous code.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")

from compat.settings import *  # noqa: F403

# A screening is worked out before its act returns, in the test's own transaction.
SCREENING_RUNS = "at once"

# The slow hash is Django's own and not under test.
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]

# The threads of a live server would keep their connections, and the test database could not be dropped.
DATABASES["default"]["CONN_MAX_AGE"] = 0  # noqa: F405

# pytest-django names one database for each worker of a parallel run, unless it knows that the database is in memory.
if DATABASES["default"]["ENGINE"].startswith("shared."):  # noqa: F405
    DATABASES["default"].setdefault("TEST", {})["NAME"] = ":memory:"  # noqa: F405

# Each test begins with an empty trail, so what is noted outside the database is asked for by the tests of it only.
TRAIL_HEADS_FILE = None

# Style sheets and scripts come from where they lie; nothing is gathered before a test.
STORAGES["staticfiles"] = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}  # noqa: F405
STATIC_ROOT = None
WHITENOISE_USE_FINDERS = True
