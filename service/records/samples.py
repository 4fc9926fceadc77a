"""Colour samples: the board, what it was to match, how it came out; its additions are those of its batch."""

from datetime import datetime

from sqlmodel import Field, SQLModel

from service.core.materials import Unknown
from service.records.base import enum_by_value


class ColourSample(SQLModel, table=True):
    """One board coloured by eye. What went onto it are the additions of `batch_id`, spoon by spoon."""

    __tablename__ = "colour_sample"

    id: int | None = Field(default=None, primary_key=True)
    batch_id: int = Field(foreign_key="batch.id", unique=True)
    wood: str = Field(max_length=120)
    # The last grit it was sanded with, as written: "180", "P220".
    grit: str = Field(default="", max_length=40)
    sealed: Unknown = Field(default=Unknown.NOT_KNOWN, sa_type=enum_by_value(Unknown, "sealed"))
    sealed_with: str = Field(default="", max_length=120)
    coats: int | None = Field(default=None)
    target: str = Field(max_length=500)
    # See core/colour_samples.py; None = not judged yet.
    verdict: str | None = Field(default=None, max_length=16)
    verdict_note: str = Field(default="", max_length=2000)
    judged_by: int | None = Field(default=None, foreign_key="person.id")
    judged_at: datetime | None = Field(default=None)
    photo_sha256: str | None = Field(default=None, foreign_key="stored_file.sha256")
    target_photo_sha256: str | None = Field(default=None, foreign_key="stored_file.sha256")
    person_id: int = Field(foreign_key="person.id")
    created_at: datetime
    version: int = Field(default=1)
