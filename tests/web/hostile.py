"""Where odd values can be put: every field of every form, call, query and path, found in the service."""

from __future__ import annotations

import inspect
import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import Enum
from typing import Any, Final, get_args

from fastapi import FastAPI
from fastapi.routing import APIRoute
from pydantic import BaseModel

from service.web.access_gate import flat
from service.web.forms import FormModel, Posted, judge, takes_many

_numbers = itertools.count(1)


def fresh_key() -> str:
    """A `once` key that nobody used."""
    return f"hostile-{next(_numbers)}"


@dataclass(frozen=True)
class Form:
    """One page that takes a post: its address template, and the fields it reads."""

    path: str
    fields: tuple[str, ...]
    usual: dict[str, Any]
    kinds: dict[str, str]
    models: tuple[type[FormModel], ...]

    def takes(self, name: str, text: str) -> Any:
        """What this form reads from a text in one of its fields; None when it refuses it with a sentence."""
        for model in self.models:
            info = model.model_fields.get(name)
            if info is not None:
                typed = [text] if takes_many(info.annotation) else text
                read: Posted[Any] = judge(model, {**self.usual, name: typed})
                if name in read.errors:
                    return None
                blank = Blank() if not text.strip() else None
                return blank or (getattr(read.value, name) if read.value is not None else Unsettled(text))
        raise KeyError(name)


class Blank:
    """A field left empty: read as not filled in."""


@dataclass(frozen=True)
class Unsettled:
    """No sentence beside the field, yet the form as a whole was not read."""

    text: str



def forms(app: FastAPI) -> list[Form]:
    """Every posted page of the service with the fields of its form, found in the routes themselves."""
    found = []
    for method, path, route in flat(app.routes):
        if method == "POST" and not path.startswith("/api/") and isinstance(route, APIRoute):
            models = list(_models(route.dependant))
            usual = {name: value for model in models for name, value in _usual(model).items()}
            kinds = {n: kind_of(f.annotation) for model in models for n, f in model.model_fields.items()}
            found.append(Form(path, tuple(usual), usual, kinds, tuple(models)))
    return sorted(found, key=lambda form: form.path)


def kind_of(annotation: Any) -> str:
    """What a field holds: "number", "time", "word" (of a list, or yes and no), "text" or something other.

    >>> kind_of(int | None), kind_of(list[str]), kind_of(bool)
    ('number', 'text', 'word')
    """
    parts = [annotation]
    while any(get_args(part) for part in parts):
        parts = [leaf for part in parts for leaf in get_args(part) or (part,)]
    kinds = [part for part in parts if isinstance(part, type) and part is not type(None)]
    for kind in kinds:
        if issubclass(kind, bool | Enum):
            return "word"
        if issubclass(kind, date):
            return "time"
        if issubclass(kind, int | float | Decimal):
            return "number"
    return "text" if str in kinds else "other"


@dataclass(frozen=True)
class Question:
    """One address that is asked: the kinds of what stands in its path and of what its query reads."""

    method: str
    path: str
    gaps: dict[str, str]
    asked: dict[str, str]


def questions(app: FastAPI) -> list[Question]:
    """Every route with what its path and its query read, found in the routes themselves."""
    found = []
    for method, path, route in flat(app.routes):
        if isinstance(route, APIRoute):
            gaps = {one.alias: kind_of(one.field_info.annotation) for one in route.dependant.path_params}
            asked = {one.alias: kind_of(one.field_info.annotation) for one in _asked(route.dependant)}
            found.append(Question(method, path, gaps, asked))
    return sorted(found, key=lambda one: (one.path, one.method))


def _asked(dependant: Any) -> Iterator[Any]:
    yield from dependant.query_params
    for needed in dependant.dependencies:
        yield from _asked(needed)


def _models(dependant: Any) -> Iterator[type[FormModel]]:
    for needed in dependant.dependencies:
        closed = inspect.getclosurevars(needed.call).nonlocals if inspect.isfunction(needed.call) else {}
        if "model" in closed:
            yield closed["model"]
        yield from _models(needed)


_USUAL: Final[dict[str, str]] = {
    "amount": "1 g", "name": "Something new", "code": "", "reason": "Written down as it was seen",
    "version": "1", "note": "As usual", "count": "1", "material": "1", "material_id": "1", "place": "1",
    "place_id": "1", "starts": "8:00", "ends": "16:00", "expires_on": "2026-03-20",
}  # fmt: skip


def _usual(model: type[BaseModel]) -> dict[str, str]:
    """Something unremarkable for each field that is needed; the others are sent blank, as browsers do."""
    values = {}
    for name, info in model.model_fields.items():
        words = _words(info.annotation) or _choices(info.metadata)
        blank = not info.is_required() and name not in _USUAL
        plain = "2026-03-12" if kind_of(info.annotation) == "time" else "1"
        values[name] = "" if blank else words[0] if words else _USUAL.get(name, plain)
    return values


def _choices(metadata: list[Any]) -> list[str]:
    """The words of a pattern that only lists some: ``^(sealed|open)$``."""
    patterns = [str(getattr(one, "pattern", None) or "") for one in metadata]
    return [word for p in patterns if p.startswith("^(") for word in p.strip("^$?()").split("|")]


def _words(annotation: Any) -> list[str]:
    members = getattr(annotation, "__members__", None)
    if members:
        return [str(member.value) for member in members.values()]
    found: list[str] = []
    for part in getattr(annotation, "__args__", ()):
        found += _words(part) if not isinstance(part, str) else [part]
    return found


@dataclass(frozen=True)
class Call:
    """One posting call: its address template, a body that can be sent, and where in it fields stand."""

    path: str
    body: dict[str, Any]
    fields: tuple[tuple[str | int, ...], ...]
    kinds: dict[tuple[str | int, ...], str]

    def fresh(self) -> dict[str, Any]:
        """The body with a key of its own, where the call takes one (else it would be refused for it)."""
        return self.body | ({"once": fresh_key()} if ("once",) in self.fields else {})


LEAST: Final[dict[str, dict[str, Any]]] = {
    "/api/recipes/{recipe_id}/versions": {
        "name": "Walnut stain", "version": 1, "lines": [{"material": 1, "amount": "2 tsp"}],
    },
    "/api/jobs/{job_id}/rags": {"way": "out", "pieces": 3},
    "/api/day-closings": {"day": "2026-03-12"},
    "/api/rag-cans/{place_id}/empty": {"into": 2, "water": "full"},
    "/api/rag-cans/{place_id}/carry": {"to": 1},
    "/api/wipes": {"place": 1, "started_on": "2026-03-01", "labelled": "yes", "sound": "yes"},
    "/api/wipes/{duty_id}/sent": {
        "way": "laundry", "named": "Weir Lane Laundry", "address": "2 Weir Lane, Ashford",
        "no_liquid": "Wrung out, nothing at the bottom",
    },
    "/api/stock-lists": {"csv": "material,amount\nRaw umber,250 g\n", "name": "list.csv"},
    "/api/batches/{batch_id}/give-up": {"reason": "Written down as it was seen"},
}  # fmt: skip
"""Bodies of calls of which the description shows none; the rest of those take a key alone."""


def calls(document: dict[str, Any], bodies: dict[str, dict[str, Any]]) -> list[Call]:
    """Every posting call of the description, each with all its fields, also those inside others."""
    found = []
    for path, methods in sorted(document["paths"].items()):
        if "post" in methods:
            schema = methods["post"]["requestBody"]["content"]["application/json"]["schema"]
            body = bodies.get(path) or LEAST.get(path, {})
            places = dict(_places(document, schema, ()))
            found.append(Call(path, body, tuple(places), places))
    return found


def _places(
    document: dict[str, Any], schema: dict[str, Any], at: tuple[str | int, ...]
) -> Iterator[tuple[tuple[str | int, ...], str]]:
    schema = _resolved(document, schema)
    if any(name != 0 and at.count(name) > 2 for name in at):
        return  # a schema that holds itself (mixes in mixes): a level inside a level is enough
    for part in schema.get("anyOf", ()):
        yield from _places(document, part, at)
    if schema.get("type") == "array":
        yield from _places(document, schema["items"], (*at, 0))
    for name, inner in schema.get("properties", {}).items():
        yield (*at, name), _kind_in(document, inner)
        yield from _places(document, inner, (*at, name))


def _resolved(document: dict[str, Any], schema: dict[str, Any]) -> dict[str, Any]:
    if "$ref" in schema:
        found: dict[str, Any] = document["components"]["schemas"][schema["$ref"].rsplit("/", 1)[1]]
        return found
    return schema


def _kind_in(document: dict[str, Any], schema: dict[str, Any]) -> str:
    """`kind_of` for a field of the description."""
    schema = _resolved(document, schema)
    kinds = {_kind_in(document, part) for part in schema.get("anyOf", ())} - {"other"}
    if kinds:
        return min(kinds, key=("number", "time", "word", "text").index)
    if schema.get("format", "").startswith("date"):
        return "time"
    if "enum" in schema or schema.get("type") == "boolean":
        return "word"
    return {"integer": "number", "number": "number", "string": "text"}.get(schema.get("type", ""), "other")


def put(body: Any, at: tuple[str | int, ...], value: Any) -> Any:
    """``body`` with ``value`` standing at a place, whatever has to be made on the way there.

    >>> put({"a": 1}, ("b", 0, "c"), 2)
    {'a': 1, 'b': [{'c': 2}]}
    """
    if not at:
        return value
    if isinstance(at[0], int):
        first = body[0] if isinstance(body, list) and body else None
        return [put(first, at[1:], value)]
    kept = body if isinstance(body, dict) else {}
    return {**kept, at[0]: put(kept.get(at[0]), at[1:], value)}
