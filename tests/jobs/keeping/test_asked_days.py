"""Days that an inspection cannot be about."""

import pytest

from jobs.forms.inspection import AskedForm

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(("since", "until"), [("2026-01-01", "9999-12-31"), ("0001-01-01", "2026-01-01")])
def test_a_day_in_no_diary_is_refused_beside_its_field(since: str, until: str) -> None:
    form = AskedForm({"since": since, "until": until})
    assert not form.is_valid()
    assert set(form.errors) == {"until" if until.startswith("9") else "since"}
