"""Shelf life: until when a lot may be used, by the calendar."""

from __future__ import annotations

from calendar import monthrange
from datetime import date, timedelta


def add_months(day: date, months: int) -> date:
    """The same day so many months on, the month's last where it has no such day.

    months: zero or more. January 31 and one month is February 28 or 29. Calendar
    arithmetic (common practice, no source). Raises ValueError for a
    negative count or a year past 9999.
    """
    if months < 0:
        raise ValueError(f"the months must be zero or more, not {months}")
    year, month = divmod(day.month - 1 + months, 12)
    year, month = day.year + year, month + 1
    return date(year, month, min(day.day, monthrange(year, month)[1]))


def last_good_day(made: date, shelf_life: int) -> date:
    """The last day on which a lot may be used: the day before ``shelf_life`` months are full.

    made: day of manufacture; where only a month is printed, its first, to the safe side.
    shelf_life: months, above zero, cartridge closed and stored as the data sheet says. The
    same for a cartridge that was opened that day and the months it keeps once opened.
    Raises ValueError outside these ranges.
    """
    if shelf_life < 1:
        raise ValueError(f"the shelf life must be a month or more, not {shelf_life}")
    return add_months(made, shelf_life) - timedelta(days=1)


def days_left(made: date, shelf_life: int, today: date) -> int:
    """Days after ``today`` on which the lot may still be used; negative when it is past.

    0: today is the last day. Arguments and errors as for ``last_good_day``.
    """
    return (last_good_day(made, shelf_life) - today).days
