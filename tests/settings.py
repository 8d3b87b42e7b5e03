"""Settings of the tests: the program's, with a state folder of their own in the system's temporary folder.

A developer's .env is not read. `BITTERN_TEST_DATABASE_URL` and `BITTERN_TEST_REDIS_URL` name running servers to use in
place of the embedded ones.
"""

import atexit
import os
import shutil
import tempfile

# Set by the session's first process; parallel workers and the servers that tests start inherit it.
if "BITTERN_STATE_OF_TESTS" not in os.environ:
    os.environ["BITTERN_STATE_OF_TESTS"] = tempfile.mkdtemp(prefix="bittern-tests-")
    # For a session that ends before it begins; others remove it when their servers have ended.
    atexit.register(shutil.rmtree, os.environ["BITTERN_STATE_OF_TESTS"], ignore_errors=True)
os.environ["BITTERN_STATE"] = os.environ["BITTERN_STATE_OF_TESTS"]
os.environ["BITTERN_ENV_FILE"] = os.devnull
os.environ["DATABASE_URL"] = os.environ.get("BITTERN_TEST_DATABASE_URL", "")
os.environ["REDIS_URL"] = os.environ.get("BITTERN_TEST_REDIS_URL", "")

from shop.settings import *  # noqa: F403
from shop.settings import CELERY_BROKER_URL, DATABASES, REDIS_URL, STORAGES

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
STORAGES = {
    **STORAGES,
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.ManifestStaticFilesStorage"},
}

# Processes of several test workers share one queue server; each has a numbered queue of its own there.
_NUMBER = int(os.environ.get("PYTEST_XDIST_WORKER", "gw0")[2:]) + 1
CELERY_BROKER_URL = f"{CELERY_BROKER_URL}{'/' if REDIS_URL else '?virtual_host='}{_NUMBER}"

# A site started by a test serves that test's database, with a pool as in real life; the tests themselves need none.
if _SERVED := os.environ.get("BITTERN_SERVED_DATABASE"):
    DATABASES["default"]["NAME"] = _SERVED
else:
    DATABASES["default"]["OPTIONS"] = {}
