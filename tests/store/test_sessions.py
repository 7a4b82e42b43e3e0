"""What a session does with its objects when it closes."""

import gc

import pytest
import sqlalchemy as sa
from sqlalchemy import event

from app import db
from app.models import Student


@pytest.mark.parametrize("kind", ["reading", "writing", "other"])
def test_no_object_is_collected_while_its_session_lets_go_of_it(app, kind):
    # Collected in between, the objects would crash CPython 3.11 (see HoldingSession).
    makers = {**app.extensions, "other": db.session_factory(app.extensions["engine"])}
    session = makers[kind]()
    students = list(session.scalars(sa.select(Student)))
    count = len(students)
    students.append(students)  # only the collector frees a list that holds itself
    del students
    let_go = []

    @event.listens_for(session, "persistent_to_detached")
    def _(_session, student):
        if not let_go:
            gc.collect()
        let_go.append(student.id)

    session.close()

    assert len(let_go) == count > 1
