"""Stock lists brought in as files: the text as it came, what was chosen, and what was taken from it."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from sqlalchemy import JSON, Column, ForeignKey, Text
from sqlmodel import Field, Session, SQLModel, col, select

from service.core.stock_list import EmptyOpened
from service.records.base import BigId, enum_by_value


class StockListFile(SQLModel, table=True):
    """One file. `rows_print` tells a file that says the same; `took` holds a print of each line taken in."""

    __tablename__ = "stock_list"

    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(max_length=120)
    text: str = Field(sa_type=Text)
    encoding: str = Field(default="", max_length=20)
    rows_print: str = Field(max_length=64, index=True)
    empty_opened: EmptyOpened = Field(sa_type=enum_by_value(EmptyOpened, "empty_opened"))
    # Lines taken from an earlier list are left aside, unless somebody says that these came again.
    again: bool = Field(default=False)
    # What each material that is not in the book is: {print of its name: choice}.
    choices: dict[str, Any] = Field(default_factory=dict, sa_type=JSON)
    brought_by: int = Field(foreign_key="person.id")
    brought_at: datetime
    taken_posting_id: int | None = Field(
        default=None, sa_column=Column(BigId, ForeignKey("posting.id"), nullable=True, unique=True)
    )
    taken_at: datetime | None = Field(default=None, index=True)
    took: list[Any] = Field(default_factory=list, sa_type=JSON)
    left_out: int = Field(default=0)
    version: int = Field(default=1)


def same_rows(session: Session, rows_print: str) -> StockListFile | None:
    """The list that says the same: one that was taken in if there is one, else the newest."""
    rows = session.exec(
        select(StockListFile)
        .where(col(StockListFile.rows_print) == rows_print)
        .order_by(col(StockListFile.taken_at).is_(None), col(StockListFile.id).desc())
        .limit(1)
    ).all()
    return rows[0] if rows else None


def lines_taken(session: Session, but: int | None = None) -> dict[str, list[int]]:
    """For each print of a line: the numbers of the lists it was taken from, once for each time."""
    found: dict[str, list[int]] = {}
    rows: Iterable[Any] = session.exec(
        select(StockListFile.id, StockListFile.took)
        .where(col(StockListFile.taken_at).is_not(None))
        .order_by(col(StockListFile.id))
    ).all()
    for number, prints in rows:
        if number is not None and number != but:
            for one in prints:
                found.setdefault(str(one), []).append(number)
    return found


def answers_before(session: Session, limit: int = 200) -> dict[str, str]:
    """What unknown names and places of earlier lists were said to be, the newest answer of each.

    Answers of one line of one list ("another") are not among them.
    """
    query = select(StockListFile.choices).order_by(col(StockListFile.id).desc()).limit(limit)
    found: dict[str, str] = {}
    for choices in reversed(session.exec(query).all()):
        found |= {key: str(choice) for key, choice in choices.items() if ":" in str(choice)}
    return found


def newest_lists(session: Session, limit: int = 20) -> list[StockListFile]:
    """The lists brought last."""
    query = select(StockListFile).order_by(col(StockListFile.id).desc()).limit(limit)
    return list(session.exec(query).all())
