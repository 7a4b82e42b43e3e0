"""The written tests of the sign-offs: banks of items as the papers take them."""

from sqlalchemy.orm import Session

from app.domain.papers.safety_test import Practice, SafetyItem, WrongAnswer
from app.models import SafetyBank
from app.store import library


def items_of(session: Session, school_id: int | None, permit: str) -> tuple[SafetyItem, ...]:
    """The items of a sign-off's test as a school sees them; none where nobody wrote any."""
    banks = library.kinds(session, SafetyBank, school_id)
    practices = {row["key"]: Practice(**row) for bank in banks.values() for row in bank.practices}
    bank = banks.get(permit)
    if bank is None:
        return ()
    return tuple(
        SafetyItem(
            key=item["key"],
            bands=tuple(item["bands"]),
            asks=item["asks"],
            right=item["right"],
            practice=practices[item["practice"]],
            wrong=tuple(
                WrongAnswer(wrong["text"], practices[wrong["breaks"]]) for wrong in item["wrong"]
            ),
            picture=item["picture"],
        )
        for item in bank.items
    )
