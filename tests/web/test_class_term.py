"""A whole term of the sample section, played through its pages with an invented term's mishaps.

Three snow days, two days on which some students are pulled out, a student who leaves and one who
comes. What the script sent is the oracle: progress, sign-offs and coverage must agree with it.
"""

import dataclasses
import datetime as dt
import html
import random
import re
from collections import defaultdict

import sqlalchemy as sa

from app import db
from app.domain.standard import depth
from app.jobs.planning import plan_section
from app.models import (
    Absence,
    Mark,
    Measurement,
    Meeting,
    MeetingState,
    Plan,
    Progress,
    Section,
    SignOff,
    Student,
)
from app.store import sections
from app.store.standard.section_coverage import section_facts
from tests.conftest import signed_in

KEY = "/sections/period-3"
# Invented mishaps of a fictional school's term.
SNOW = {dt.date(2027, 1, 26), dt.date(2027, 2, 3), dt.date(2027, 2, 4)}
PLAN_AGAIN = {dt.date(2027, 2, 4), dt.date(2027, 3, 15)}
PULLED_OUT = {dt.date(2027, 2, 19): 3, dt.date(2027, 4, 23): 6}
LEAVES, COMES = ("S1-09", dt.date(2027, 2, 12)), ("S1-23", dt.date(2027, 2, 22), "T09")
FORM = re.compile(r'<form class="record".*?action="[^"]*/steps/(\d+)/(\d+)"', re.DOTALL)
BENCH = re.compile(r'<section class="bench".*?</section>', re.DOTALL)
PART = re.compile(r"part (\d+) of (\d+)")
HERE = re.compile(r"Here: ([^.;]+)")
TAG = re.compile(r"<[^>]+>")


class Term:
    """The script: what a teacher would tap, day by day, and what was sent."""

    def __init__(self, app):
        self.app = app
        self.client = signed_in(app, "teacher")
        self.factory = db.session_factory(app.extensions["engine"])
        self.draw = random.Random("term")
        self.signed = set()
        self.away = defaultdict(set)
        self.sent = []
        self.readings = 0
        with self.factory() as session:
            section = self.section(session)
            self.steps = {
                s.id: (s.key, s.hold_point, s.check, s.permit, tuple(s.grants), tuple(s.after))
                for s in sections.load_steps(session, section.build_id)
            }
            self.made = {
                s.key
                for s in sections.load_steps(session, section.build_id)
                if s.outside_class or s.key in section.ready_made
            }
            self.days = [(m.date, m.number) for m in sections.list_meetings(session, section)]

    @staticmethod
    def section(session):
        return session.scalar(sa.select(Section).where(Section.key == "period-3"))

    def begin_again(self):
        """Undo the sample's own past; the first plan of the term is in force."""
        with self.factory() as session:
            section = self.section(session)
            teams = [team.id for team in section.teams]
            students = [student.id for student in section.students]
            for table in (Progress, Measurement):
                session.execute(sa.delete(table).where(table.team_id.in_(teams)))
            for table in (Absence, Mark, SignOff):
                session.execute(sa.delete(table).where(table.student_id.in_(students)))
            mine = Plan.section_id == section.id
            session.execute(sa.update(Plan).where(mine).values(current=False))
            first = session.scalar(sa.select(sa.func.min(Plan.id)).where(mine))
            session.execute(sa.update(Plan).where(Plan.id == first).values(current=True))
            for meeting in section.meetings:
                meeting.state, meeting.note = MeetingState.PLANNED, ""
            session.commit()

    def on(self, date):
        settings = self.app.config["STRINGCOURSE"]
        self.app.config["STRINGCOURSE"] = dataclasses.replace(settings, today=date)

    def post(self, address, **data):
        answer = self.client.post(f"{KEY}{address}", data=data)
        assert answer.status_code == 303, f"{address} {data}: {said(answer.text)}"

    def play(self):
        for date, _ in self.days:
            self.on(date)
            self.roster_changes(date)
            number = self.number_of(date)
            if number is None:
                continue
            if date in SNOW:
                self.post(f"/meetings/{number}", state="lost", note="Snow")
            else:
                self.teach(date, number)
            if date in PLAN_AGAIN:
                self.plan_again()

    def number_of(self, date):
        with self.factory() as session:
            meeting = session.scalar(
                sa.select(Meeting).where(
                    Meeting.section_id == self.section(session).id, Meeting.date == date
                )
            )
            return None if meeting.state is MeetingState.LOST else meeting.number

    def roster_changes(self, date):
        if date == LEAVES[1]:
            self.post(
                f"/roster/students/{self.id_of(LEAVES[0])}", entered="", left=date.isoformat()
            )
        if date == COMES[1]:
            self.post("/roster", rows=f"code,team,grade\n{COMES[0]},{COMES[2]},10\n")
            self.post(f"/roster/students/{self.id_of(COMES[0])}", entered=date.isoformat(), left="")

    def id_of(self, code):
        with self.factory() as session:
            mine = Student.section_id == self.section(session).id
            return session.scalar(sa.select(Student.id).where(mine, Student.code == code))

    def plan_again(self):
        with self.factory() as session:
            now = dt.datetime.now(dt.UTC)
            plan_section(session, self.section(session), by="script", now=now, seconds=1)
            session.commit()

    def teach(self, date, number):
        page = self.client.get(f"{KEY}/today")
        assert page.status_code == 200
        codes = re.findall(r'name="away" value="([^"]+)"', page.text)
        count = PULLED_OUT.get(date, 1 if self.draw.random() < 0.6 else 0)
        self.away[date] = set(self.draw.sample(codes, count))
        self.post(f"/meetings/{number}/away", away=sorted(self.away[date]))
        page = self.client.get(f"{KEY}/today")
        for bench in BENCH.findall(page.text):
            self.record(number, bench)
        self.post(f"/meetings/{number}", state="taught")
        if ">Lesson, " in page.text:
            self.mark()

    def record(self, number, bench):
        form, part, here = FORM.search(bench), PART.search(bench), HERE.search(bench)
        if form is None or here is None or (part and part[1] != part[2]):
            return
        team_id, step_id = int(form[1]), int(form[2])
        _, hold, check, permit, grants, after = self.steps[step_id]
        done = {self.steps[step][0] for team, step in self.sent if team == team_id}
        if not set(after) <= done | self.made:
            return  # the team does first what comes first, from the list of what is left open
        present = [code.strip() for code in html.unescape(TAG.sub("", here[1])).split(",")]
        if permit and permit not in grants:
            self.sign_off(present, permit)
        data = {"event": "done"}
        if hold:
            data["initials"] = "AR"
        if hold and check:
            data["reading"] = str(check["nominal"])
            self.readings += 1
        self.post(f"/meetings/{number}/steps/{team_id}/{step_id}", **data)
        self.sent.append((team_id, step_id))
        for granted in grants:
            self.sign_off(present, granted)

    def sign_off(self, codes, permit):
        missing = [code for code in codes if (code, permit) not in self.signed]
        if not missing:
            return
        for part in ("lesson", "test", "check-out"):
            self.post(
                "/sign-offs", students=missing, permit=permit, part=part,
                version="form A", score="100",
            )  # fmt: skip
        self.signed |= {(code, permit) for code in missing}

    def mark(self):
        """Fill the empty cells of the newest lesson."""
        page = self.client.get(f"{KEY}/marks").text
        names = re.findall(r'name="(m-\d+-\d+)"[^>]*value=""', page)
        if names:
            self.post("/marks", **{"out-of": "10", **dict.fromkeys(names, "8")})


def said(text):
    """The sentences of a refused page."""
    found = re.search(r'class="error-summary".*?</div>', text, re.DOTALL)
    return html.unescape(re.sub(r"<[^>]+>", " ", found[0])) if found else text[:300]


def check_progress(session, section, term):
    rows = [
        row
        for row in session.scalars(sa.select(Progress).where(Progress.event == "done"))
        if row.team.section_id == section.id
    ]
    assert sorted((row.team_id, row.step_id) for row in rows) == sorted(term.sent)
    assert len(set(term.sent)) == len(term.sent)
    assert not {row.meeting.date for row in rows} & SNOW
    finished = {(row.team_id, row.step.key): row.meeting.date for row in rows}
    by_key = {s.key: s for s in sections.load_steps(session, section.build_id)}
    for row in rows:
        for before in row.step.after:
            made = by_key[before].outside_class or before in section.ready_made
            earlier = finished.get((row.team_id, before))
            assert made or (earlier is not None and earlier <= row.meeting.date), (
                row.team.code, row.step.key, before,
            )  # fmt: skip
    return rows


def check_sign_offs(session, section, term, rows):
    log = defaultdict(dict)
    for row in session.scalars(
        sa.select(SignOff).join(Student).where(Student.section_id == section.id)
    ):
        log[row.student.code, row.permit][row.part] = row.date
    assert set(log) == term.signed
    for parts in log.values():
        assert parts["lesson"] <= parts["test"] <= parts["check-out"]
    for row in rows:
        permit = row.step.permit
        if permit and permit not in row.step.grants:
            here = {student.code for student in row.team.students} - term.away[row.meeting.date]
            assert any(
                log.get((code, permit), {}).get("check-out", dt.date.max) <= row.meeting.date
                for code in here
            ), (row.team.code, row.step.key)


def test_a_whole_term_through_the_pages_ends_with_consistent_records(app):
    term = Term(app)
    term.begin_again()
    term.play()
    with term.factory() as session:
        section = term.section(session)
        rows = check_progress(session, section, term)
        check_sign_offs(session, section, term, rows)

        held = defaultdict(set)
        for row in session.scalars(
            sa.select(Absence).join(Student).where(Student.section_id == section.id)
        ):
            held[row.meeting.date].add(row.student.code)
        assert held == {date: codes for date, codes in term.away.items() if codes}
        lost = {m.date for m in section.meetings if m.state is MeetingState.LOST}
        assert lost == SNOW
        assert all(m.state is not MeetingState.PLANNED for m in section.meetings)

        # Nothing is planned any more, so coverage may only stand on what was taught.
        facts = section_facts(session, section)
        states = {
            item.state for found in facts.coverage.standards.values() for item in found.evidence
        }
        assert states == {depth.CoverageState.TAUGHT}
        marked = session.scalar(
            sa.select(sa.func.count()).select_from(Mark).join(Student).where(
                Student.section_id == section.id
            )
        )  # fmt: skip
        assert marked > 0
        shares = [found.share for found in facts.coverage.standards.values()]
        assert {share.roster for share in shares} == {22}
        last = dt.date(2027, 5, 14)
        assert sum(student.enrolled(last) for student in section.students) == 22
        assert len(term.sent) > 300
    for page in ("today", "progress", "sign-offs", "measurements", "coverage"):
        assert term.client.get(f"{KEY}/{page}").status_code == 200
