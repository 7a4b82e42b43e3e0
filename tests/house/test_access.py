"""Every route is public or turns a stranger away; every route answers for every role."""

import datetime as dt

import pytest

from tests.conftest import signed_in
from tests.pages import check_page

VALUES = {
    "number": 9,
    "date": dt.date(2027, 3, 2),
    "phase": "neck-and-fretboard",
    "filename": "style.css",
    "code": "HSF.LE.A.2",
    "token": "unknown",
    "kind": "letter-home",
}
KEYS = {
    "builds": "six-string-solid-body",
    "concepts": "geometric-sequence",
    "calculators": "fret-positions",
    "departments": "design-technology",
}
PUBLIC = {
    "accounts.sign_in",
    "accounts.begin_session",
    "accounts.start",
    "accounts.create_school",
    "planning.calendar_feed",  # by a secret address
    "worksheets.open_calculator",
    "static",
}


def routes(app):
    """Every rule with an address that exists in the sample school."""
    with app.test_request_context():
        adapter = app.url_map.bind("localhost")
        for rule in app.url_map.iter_rules():
            first = rule.rule.strip("/").split("/")[0]
            values = {
                name: next(iter(getattr(rule._converters[name], "items", [VALUES.get(name, 1)])))
                for name in rule.arguments
            }
            if "key" in values:
                values["key"] = KEYS.get(first, "period-3")
            yield rule, adapter.build(rule.endpoint, values)


def test_a_stranger_sees_only_public_pages(app, client):
    for rule, address in routes(app):
        view = app.view_functions[rule.endpoint]
        if rule.endpoint == "static":
            continue
        is_public = getattr(view, "is_public", False)
        for method in rule.methods & {"GET", "POST"}:
            answer = client.open(address, method=method)
            if is_public:
                assert answer.status_code not in (401, 500), (rule.endpoint, answer.status_code)
            elif method == "GET":
                assert answer.status_code == 302, (rule.endpoint, answer.status_code)
                assert "/sign-in" in answer.location
            else:
                assert answer.status_code == 401, (rule.endpoint, answer.status_code)


def test_public_pages_are_those_we_mean(app):
    public = {
        endpoint
        for endpoint, view in app.view_functions.items()
        if getattr(view, "is_public", False) and not endpoint.startswith(("calculators.", "api."))
    }

    assert public | {"static"} == PUBLIC


@pytest.mark.parametrize("who", ["teacher", "head", "workshop", "admin"])
def test_every_page_answers_every_role(app, who):
    client = signed_in(app, who)
    for rule, address in routes(app):
        if "GET" in rule.methods and rule.endpoint != "static":
            answer = client.get(address)
            assert answer.status_code < 500, (who, address, answer.status_code)
            if answer.mimetype == "text/html" and answer.status_code in (200, 404):
                check_page(answer.text)


@pytest.mark.parametrize("who", ["teacher", "head", "workshop", "admin"])
def test_an_empty_form_is_refused_in_words_by_every_route(app, who):
    client = signed_in(app, who)
    for rule, address in routes(app):
        if "POST" in rule.methods and rule.endpoint != "accounts.sign_out":
            answer = client.post(address, data={})
            assert answer.status_code < 500, (who, address, answer.status_code)


def test_another_teachers_section_looks_as_if_it_did_not_exist(app, session):
    from app.models import Role, School
    from app.store import accounts

    school = session.query(School).one()
    accounts.create_user(
        session,
        school=school,
        email="other@demo.example",
        name="Another teacher",
        role=Role.TEACHER,
        password="spruce and maple",
        now=dt.datetime.now(dt.UTC),
        department=school.departments[0],
    )
    session.commit()
    client = signed_in(app, "other")
    for rule, address in routes(app):
        if rule.rule.startswith("/sections/<key>"):
            for method in rule.methods & {"GET", "POST"}:
                answer = client.open(address, method=method)
                assert answer.status_code == 404, (address, method, answer.status_code)
