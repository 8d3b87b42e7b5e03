"""Fixtures for every test.

Servers. The first test that asks for the database starts PostgreSQL and the queue in a temporary state folder; parallel
workers share the servers, each with a database (and a queue number) of its own. Pure tests start nothing.

Web, for tests marked `browser` (see tests/harness):

- `live`: the address of the site as it really runs (uvicorn in a process of its own, serving this worker's test
  database). Rows must be committed to be seen there, so a test that uses it gets `transactional_db`.
- `worker`: a real Celery worker on this worker's queue and test database; tasks that a test's pages send are done.
- `office(person, scheme="light", scripts=True)` and `phone(...)`: a Playwright page signed in as `person` (None:
  nobody), at 1440 x 900 and at 390 x 844 with touch; `scheme` is "light" or "dark". `page.goto("/day")` takes paths.
  When the test ends, an error on the page's console (an uncaught error, a refusal by the content policy, a missing
  file) fails the test; a page that itself answers 403, 404 or 422 does not.
- `axe(page)`: fails with a readable list when the page breaks a WCAG 2.2 A or AA rule that axe can see.
- `eventually(check, within=10)`: waits until `check()` is true and returns its value.
"""

from collections.abc import Generator

import pytest

pytest_plugins = ["tests.harness.servers", "tests.harness.site", "tests.harness.browser"]


@pytest.fixture(autouse=True)
def shop_read_anew() -> Generator[None]:
    """No test sees the shop's row that another test has read and rolled back."""
    from shop.models import Shop

    Shop.forget()
    yield
    Shop.forget()
