"""Rules every page keeps, checked wherever a test opens one."""

import re
from html.parser import HTMLParser

VOID = {"meta", "link", "input", "br", "hr", "img", "path", "rect"}


class _Page(HTMLParser):
    def __init__(self):
        super().__init__()
        self.tags, self.ids, self.labels, self.fields = [], [], set(), []
        self.title = ""
        self._in_title = False
        self.faults = []
        self._label_depth = 0

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        self.tags.append(tag)
        if "id" in given:
            self.ids.append(given["id"])
        if tag == "label":
            self._label_depth += 1
            if "for" in given:
                self.labels.add(given["for"])
        if tag == "title" and not self.title:
            self._in_title = True
        if "style" in given:
            self.faults.append(f"inline style on {tag}")
        if tag == "script" and "src" not in given:
            self.faults.append("inline script")
        if any(name.startswith("on") for name in given):
            self.faults.append(f"inline handler on {tag}")
        is_field = tag in ("input", "select", "textarea")
        shown = given.get("type") not in ("hidden", "submit")
        if is_field and shown and not self._label_depth and "aria-label" not in given:
            self.fields.append(given.get("id"))

    def handle_endtag(self, tag):
        if tag == "title":
            self._in_title = False
        if tag == "label":
            self._label_depth -= 1

    def handle_data(self, data):
        if self._in_title:
            self.title += data


def check_page(html):
    """One h1, a title, unique ids, labelled fields, nothing inline."""
    page = _Page()
    page.feed(html)
    assert page.tags.count("h1") == 1, f"{page.tags.count('h1')} h1"
    assert re.search(r"\S", page.title), "no title"
    twice = sorted({item for item in page.ids if page.ids.count(item) > 1})
    assert not twice, f"ids that stand twice: {twice}"
    unlabelled = [item for item in page.fields if item not in page.labels]
    assert not unlabelled, f"fields without a label: {unlabelled}"
    assert not page.faults, page.faults
    return html


def get(client, address, status=200):
    """Open a page, check its status and the rules, and return its text."""
    answer = client.get(address)
    assert answer.status_code == status, f"{address}: {answer.status_code}"
    if answer.mimetype == "text/html" and not 300 <= status < 400:
        check_page(answer.text)
    return answer.text


def post(client, address, status=303, **data):
    """Send a form and return the answer."""
    answer = client.post(address, data=data)
    assert answer.status_code == status, f"{address}: {answer.status_code}\n{answer.text[:3000]}"
    return answer
