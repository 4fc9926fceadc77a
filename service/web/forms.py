"""How a page takes a form: everything typed is kept, the judgement stands beside it.

``p: Annotated[Posted[DrawForm], Depends(posted(DrawForm))]``; then ``if p.value is None`` answer the same
page with status 422. The reading is asynchronous, the endpoint stays a plain function.
"""

from __future__ import annotations

import types
from collections.abc import Awaitable, Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Annotated, Any, ClassVar, Final, Generic, TypeVar, Union, get_args, get_origin

from pydantic import BaseModel, ConfigDict, ValidationError, ValidationInfo, field_validator
from starlette.datastructures import FormData, UploadFile
from starlette.requests import Request

from service.core.findings import Invalid, Reading
from service.core.written_signs import composed
from service.web.sentences import sentence_for
from service.web.text_guard import check_text

MAX_FIELDS: Final = 400
MAX_FILES: Final = 4
MAX_PART: Final = 200_000
"""Bytes of one field that is not a file."""


class FormModel(BaseModel):
    """Base of every form. Unknown fields (buttons) are left aside; ``sentences`` holds the form's own words.

    A field's label is its ``Field(title=…)``, the same words that stand over it on the page. No text with
    hidden signs is read, whatever the field's type, but in ``unguarded`` fields, which are judged further in.
    ``most_fields`` bounds how many fields are taken; a form of many numbered lines asks for more.
    """

    model_config = ConfigDict(extra="ignore", str_max_length=4000, hide_input_in_errors=True)
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {}
    unguarded: ClassVar[frozenset[str]] = frozenset()
    most_fields: ClassVar[int] = MAX_FIELDS

    @field_validator("*", mode="before")
    @classmethod
    def _clean(cls, value: Any, info: ValidationInfo) -> Any:
        if info.field_name in cls.unguarded:
            return value
        return [_cleaned(item) for item in value] if isinstance(value, list) else _cleaned(value)


def _cleaned(value: Any) -> Any:
    """A text without hidden signs, composed, with one kind of line end; anything else as it is."""
    if not isinstance(value, str):
        return value
    return composed(check_text(value, lines=True)).replace("\r\n", "\n").replace("\r", "\n")


M = TypeVar("M", bound=FormModel)


@dataclass(frozen=True)
class Upload:
    """A file that came with a form. ``name`` is only text for people, never a path."""

    name: str
    content: bytes


@dataclass
class Posted(Generic[M]):
    """What was typed (``raw``), what it means (``value``, None with errors), and a sentence per field."""

    raw: dict[str, str | list[str]] = field(default_factory=dict)
    value: M | None = None
    errors: dict[str, str] = field(default_factory=dict)
    readings: dict[str, tuple[Reading, ...]] = field(default_factory=dict)
    files: dict[str, list[Upload]] = field(default_factory=dict)

    @property
    def first_error(self) -> str:
        """The first sentence, or an empty text."""
        return next(iter(self.errors.values()), "")

    def text(self, name: str) -> str:
        """What stands in a field, for the page to show again."""
        value = self.raw.get(name, "")
        return value if isinstance(value, str) else (value[0] if value else "")

    def all(self, name: str) -> list[str]:
        """What stands in a field that may be sent several times."""
        value = self.raw.get(name, [])
        return [value] if isinstance(value, str) else value

    def upload(self, name: str) -> Upload | None:
        """The first file of a field."""
        return next(iter(self.files.get(name, [])), None)

    def refuse(self, name: str, words: str, readings: tuple[Reading, ...] = ()) -> None:
        """Add a sentence to a field (empty name: to the whole form); the form then has no value."""
        self.errors.setdefault(name, words)
        if readings:
            self.readings[name] = readings
        self.value = None

    def take(self, error: Invalid, name: str = "") -> None:
        """Add what an action said: its fields' sentences, or its sentence to ``name``."""
        for key, words in error.errors.items():
            # Forms with one reason field ask there why an entry is late.
            late = key == "late_reason" and key not in self.raw and "reason" in self.raw
            self.refuse("reason" if late else key, words)
        if not error.errors or error.readings:
            self.refuse(name, error.sentence, error.readings)


def filled(**values: object) -> Posted[Any]:
    """A form as a page first shows it: these values typed in, nothing judged.

    >>> filled(amount="2 tsp", note=None).text("note")
    ''
    """
    raw: dict[str, str | list[str]] = {}
    for name, value in values.items():
        if isinstance(value, list | tuple | set | frozenset):
            raw[name] = [str(item) for item in value]
        elif isinstance(value, bool):
            raw[name] = "yes" if value else ""
        else:
            raw[name] = "" if value is None else str(value)
    return Posted(raw=raw)


def posted(model: type[M], *, uploads: bool = False) -> Callable[[Request], Awaitable[Posted[M]]]:
    """A dependency that reads the form of a request into ``Posted[model]``. Files only with ``uploads``."""
    many = frozenset(name for name, info in model.model_fields.items() if takes_many(info.annotation))

    async def read(request: Request) -> Posted[M]:
        try:
            form = await request.form(
                max_files=MAX_FILES if uploads else 0, max_fields=model.most_fields, max_part_size=MAX_PART
            )
        except OSError:
            await _hear_out(request)
            raise
        try:
            files = await _files(form) if uploads else {}
            return judge(model, raw_values(form, many), files)
        finally:
            await form.close()

    return read


async def _hear_out(request: Request) -> None:
    """Take the rest of the body in and drop it; its size is bounded by the route.

    Who is answered and cut off while still sending sees a broken connection and never the reason.
    """
    with suppress(Exception):
        async for _ in request.stream():
            pass


def takes_many(annotation: Any) -> bool:
    """True for list, set and tuple fields, also when optional."""
    origin = get_origin(annotation)
    if origin is Annotated or origin in (Union, types.UnionType):
        return any(takes_many(part) for part in get_args(annotation))
    return origin in (list, set, frozenset, tuple)


def raw_values(form: FormData, many: frozenset[str]) -> dict[str, str | list[str]]:
    """The text fields of a form. A field sent twice that takes one value keeps the last (a button's)."""
    raw: dict[str, str | list[str]] = {}
    for name, value in form.multi_items():
        if isinstance(value, UploadFile):
            continue
        if name in many:
            kept = raw.setdefault(name, [])
            if isinstance(kept, list):
                kept.append(value)
        else:
            raw[name] = value
    return raw


async def _files(form: FormData) -> dict[str, list[Upload]]:
    files: dict[str, list[Upload]] = {}
    for name, value in form.multi_items():
        if isinstance(value, UploadFile) and (value.filename or value.size):
            # The size is bounded by the route's body limit; a name may be any text at all.
            shown = "".join(c for c in (value.filename or "")[-120:] if c.isprintable()) or "file"
            files.setdefault(name, []).append(Upload(shown, await value.read()))
    return files


def judge(
    model: type[M], raw: dict[str, str | list[str]], files: dict[str, list[Upload]] | None = None
) -> Posted[M]:
    """Judge what was typed. An empty or blank field counts as not filled in."""
    typed: dict[str, Any] = {}
    for name, value in raw.items():
        if isinstance(value, list):
            typed[name] = [item for item in value if item.strip()]
        elif value.strip():
            typed[name] = value
    result: Posted[M] = Posted(raw=raw, files=files or {})
    try:
        result.value = model.model_validate(typed)
    except ValidationError as error:
        for one in error.errors(include_url=False, include_input=False):
            name = str(one["loc"][0]) if one["loc"] else ""
            words = sentence_for(one, label_of(model, name), model.sentences, name)
            readings = (one.get("ctx") or {}).get("readings") or ()
            result.refuse(name, words, tuple(Reading(text, said) for text, said in readings))
    return result


def label_of(model: type[BaseModel], name: str) -> str:
    """The label of a field: its title, or its name in words."""
    info = model.model_fields.get(name)
    title = info.title if info is not None else None
    return title or name.replace("_", " ") or "this form"
