#!/usr/bin/env python3
"""Writes dates.csv: dates some whole months on, by relativedelta of python-dateutil.

    python3 -m venv venv && venv/bin/pip install python-dateutil && venv/bin/python make_dates.py > dates.csv

Columns: from, months, to, days between, source. Every month end and the days before it, around leap years and
the century years 2000 and 2100, and some ordinary days.
"""

import calendar
from datetime import date
from importlib.metadata import version

from dateutil.relativedelta import relativedelta

SOURCE = f"python-dateutil {version('python-dateutil')} relativedelta"


def rows():
    seen = []
    for year in (2023, 2024, 2025, 2026):
        for month in range(1, 13):
            last = calendar.monthrange(year, month)[1]
            for day in sorted({1, 15, 28, last - 1, last}):
                seen.append((date(year, month, day), 3))
    for start in (
        date(2024, 2, 29), date(2000, 2, 29), date(2096, 2, 29), date(1999, 12, 31), date(2099, 11, 30),
        date(2025, 1, 31), date(2025, 8, 31), date(2023, 11, 30), date(2025, 2, 28), date(2024, 1, 30),
    ):
        for months in (1, 2, 3, 4, 6, 11, 12, 24, 30, 36, 48, 60, 120):
            seen.append((start, months))
    # A worked example and the legal one of Dodds v Walker (30 September and three or four months).
    seen += [(date(2025, 11, 30), 3), (date(2025, 11, 30), 6), (date(2025, 9, 30), 3), (date(2025, 9, 30), 4)]
    return sorted(set(seen))


print("from,months,to,days,source")
for start, months in rows():
    end = start + relativedelta(months=months)
    print(f"{start},{months},{end},{(end - start).days},{SOURCE}")
