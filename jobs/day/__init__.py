"""The day sheet: one day as the office sees it, made ready for its page in a few queries."""

from jobs.day.load import DaySheet, load_day_sheet

__all__ = ["DaySheet", "load_day_sheet"]
