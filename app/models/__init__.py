"""The schema as one map.

people: school, department, user, room → stations, fixtures, adults.
library: workshop kinds; build → phase → step → exposure ← concept → treatment → question,
alignment → standard ← framework.
sections: term → days; course → required standards; section → teams → instrument, students,
meetings.
plans: plan → activities, lessons.
evidence: absence, progress, measurement, mark, sign-off, paper, review, job.
"""

from app.models.evidence import (
    Absence,
    Job,
    Mark,
    Measurement,
    Paper,
    Progress,
    Review,
    SignOff,
    Stock,
)
from app.models.library import (
    Alignment,
    Build,
    Concept,
    Exposure,
    FixtureType,
    Framework,
    Material,
    PermitType,
    Phase,
    Question,
    Standard,
    StationType,
    Step,
    StepMaterial,
    Treatment,
)
from app.models.people import Adult, Department, Fixture, Role, Room, School, Station, User
from app.models.plans import Activity, Lesson, Plan
from app.models.sections import (
    Course,
    Instrument,
    InstrumentQuantity,
    Meeting,
    MeetingState,
    RequiredStandard,
    Section,
    Student,
    Team,
    Term,
    TermDay,
)

__all__ = [
    "Absence",
    "Activity",
    "Adult",
    "Alignment",
    "Build",
    "Concept",
    "Course",
    "Department",
    "Exposure",
    "Fixture",
    "FixtureType",
    "Framework",
    "Instrument",
    "InstrumentQuantity",
    "Job",
    "Lesson",
    "Mark",
    "Material",
    "Measurement",
    "Meeting",
    "MeetingState",
    "Paper",
    "PermitType",
    "Phase",
    "Plan",
    "Progress",
    "Question",
    "RequiredStandard",
    "Review",
    "Role",
    "Room",
    "School",
    "Section",
    "SignOff",
    "Standard",
    "Station",
    "StationType",
    "Step",
    "StepMaterial",
    "Stock",
    "Student",
    "Team",
    "Term",
    "TermDay",
    "Treatment",
    "User",
]
