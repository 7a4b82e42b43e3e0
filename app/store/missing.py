"""What the store refuses: a thing there is not, and what follows from a plan there is not yet."""

from app.models import Meeting, Section


class Missing(LookupError):
    """There is no such thing, or it is not yours."""


class LostMeeting(Missing):
    """A meeting that is recorded as lost: nothing is recorded into it until it is opened again."""

    def __init__(self, meeting: Meeting) -> None:
        super().__init__(f"meeting {meeting.number} is lost")
        self.meeting = meeting


class NoPlan(Missing):
    """What was asked for follows from the section's plan, and there is none yet."""

    def __init__(self, section: Section) -> None:
        super().__init__(f"{section.key} has no plan yet; plan its term first")
        self.section = section
