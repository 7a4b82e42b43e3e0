"""Rows for tests: what a test does not name is empty."""

import datetime as dt

import sqlalchemy as sa

FIRST = dt.date(2027, 1, 4)
NOW = dt.datetime(2027, 1, 4, 8, 0, tzinfo=dt.UTC)
_EMPTY = (
    (sa.JSON, list),
    (sa.Boolean, lambda: False),
    (sa.Integer, lambda: 0),
    (sa.Float, lambda: 0.0),
    (sa.Date, lambda: FIRST),
    (sa.Time, lambda: dt.time(9)),
)


def values_of(model, **given):
    """Every column of a table that must be filled, with `given` ones as they are."""
    found = dict(given)
    for column in sa.inspect(model).columns:
        needed = not (column.nullable or column.primary_key or column.default is not None)
        if needed and column.key not in found and not column.foreign_keys:
            kinds = [make for kind, make in _EMPTY if isinstance(column.type, kind)]
            is_moment = isinstance(column.type, sa.TypeDecorator)
            found[column.key] = NOW if is_moment else kinds[0]() if kinds else ""
    return found


def add(session, model, **given):
    """A row, added and numbered."""
    row = model(**values_of(model, **given))
    session.add(row)
    session.flush()
    return row
