"""Two phones on one key at the same instant: one answer is taken, one blank, one final key's use each."""

import pytest

from jobs.errors import MovedMeanwhile
from jobs.models import KeyWork
from tests.jobs.keys.rows import bench
from tests.threads import at_once

pytestmark = pytest.mark.django_db(transaction=True)


def test_two_answers_to_one_try_count_once() -> None:
    made = bench()
    made.read_door()

    done = at_once(*[lambda: made.answer("does not turn", seen=0)] * 4)
    assert sum(isinstance(each, KeyWork) for each in done) == 1
    assert sum(isinstance(each, MovedMeanwhile) for each in done) == 3
    assert made.work.tries == 1 and made.held(made.trial) == 19


def test_key_work_begun_twice_is_one() -> None:
    made = bench()
    done = at_once(*[made.begin] * 4)
    assert done == [None] * 4 and KeyWork.objects.count() == 1
