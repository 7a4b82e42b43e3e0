"""A catch-up slip says in each case what is left to do, and with whom."""

import datetime as dt

import pytest

from app.domain.papers.catch_up import MissedWork, Slip, slip_document
from app.domain.papers.document import Items, Paragraph

DAY = dt.date(2027, 3, 1)


def work_line(**more):
    """The line of one missed step."""
    given = {"done": False, "way": "Finish at open bench.", **more}
    slip = Slip(
        "Period 3", "S1-05", "T03", DAY, work=(MissedWork("E10", "Rout", "bench", **given),)
    )
    return next(block for block in slip_document(slip).blocks if isinstance(block, Items)).items[0]


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({}, "still open. To make it up: finish at open bench."),
        ({"way": ""}, "still open."),
        ({"done": True}, "done by your team; nothing is left but to have it shown to you."),
        (
            {"done": True, "own": True, "way": "Make-up test"},
            "done by your team. Your own part is left: make-up test.",
        ),
    ],
)
def test_what_the_team_has_done_is_not_asked_for_again(given, says):
    assert work_line(**given) == f"E10 Rout (bench): {says}"


@pytest.mark.parametrize(
    ("partners", "team_away", "says"),
    [
        (("S1-16",), False, "Ask S1-16 to show you the work; then the teacher."),
        ((), True, "Nobody of your team was there: ask the teacher."),
        ((), False, "Ask the teacher."),
    ],
)
def test_only_partners_who_were_there_are_asked(partners, team_away, says):
    document = slip_document(Slip("Period 3", "S1-05", "T03", DAY, partners, team_away))
    found = [block for block in document.blocks if isinstance(block, Paragraph)]
    assert found[-1].text == says
