"""Duties: something a named person owes by a time."""

from datetime import datetime

from sqlmodel import Field, SQLModel


class Duty(SQLModel, table=True):
    """`kind` says what is owed: move-container, waste-collection, answer-violation, count-container…"""

    __tablename__ = "duty"

    id: int | None = Field(default=None, primary_key=True)
    kind: str = Field(max_length=32, index=True)
    sentence: str = Field(max_length=500)
    owed_by: int = Field(foreign_key="person.id", index=True)
    due_at: datetime = Field(index=True)
    about_kind: str = Field(default="", max_length=32)
    about_id: int | None = Field(default=None)
    keeper_answers: bool = Field(default=False)
    created_at: datetime
    done_at: datetime | None = Field(default=None, index=True)
    done_by: int | None = Field(default=None, foreign_key="person.id")
    answer: str = Field(default="", max_length=2000)
