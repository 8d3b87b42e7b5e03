from datetime import time

from hypothesis import given
from hypothesis import strategies as st

from shop.staff.week import SHORT_DAYS, week_in_words

DAY = (time(8), time(17))
SHORT = (time(9), time(13))


def test_neighbouring_days_with_the_same_hours_are_told_together() -> None:
    week = [(day, *DAY) for day in range(5)] + [(5, *SHORT)]
    assert week_in_words(week) == "Mon–Fri 08:00–17:00, Sat 09:00–13:00"
    assert week_in_words([(0, *DAY), (1, *DAY), (3, *DAY)]) == "Mon, Tue 08:00–17:00, Thu 08:00–17:00"
    assert week_in_words([]) == ""


@given(days=st.dictionaries(st.integers(0, 6), st.sampled_from([DAY, SHORT])))
def test_every_change_of_hours_is_told_once(days: dict[int, tuple[time, time]]) -> None:
    words = week_in_words((day, *hours) for day, hours in days.items())
    runs = sum(days.get(day - 1) != hours for day, hours in days.items())
    assert words.count(":") == 2 * runs
    assert sum(words.count(name) for name in SHORT_DAYS) <= 2 * runs
