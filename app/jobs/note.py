"""What a job says of itself while it is carried out, and the wish to stop it."""

from typing import Protocol


class Note(Protocol):
    """Where a job says how far it is and hears that it should stop."""

    job_id: int

    def progress(self, best: int, bound: int) -> None:
        """Say how good the best plan is, and how good one could be."""

    def count(self, done: int, of: int, doing: str) -> None:
        """Say how many of the sheets are made, and what is being done."""

    def change(self, name: str) -> None:
        """Say which change is being tried."""

    def stop_asked(self) -> bool:
        """Whether someone wants the work to end."""
