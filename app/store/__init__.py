"""Every load and save, one file per aggregate, and the rule which rows are *mine*.

A loader ends in one row or raises Missing: a stranger's thing looks as if it did not exist.
Nothing here commits.
"""

from app.store.missing import LostMeeting, Missing, NoPlan

__all__ = ["LostMeeting", "Missing", "NoPlan"]
