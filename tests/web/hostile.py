"""What nobody types and a machine may send: texts, numbers, shapes; and the forms and bodies to put them in.

The list is our own; each line stands for a way in which such services are known to fail.
"""

from __future__ import annotations

import inspect
import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

from fastapi import FastAPI
from fastapi.routing import APIRoute
from pydantic import BaseModel

from service.web.access_gate import flat

TEXTS: Final[tuple[str, ...]] = (
    "",
    " ",
    "\x00",
    "a\x00b",
    "\x1b[2J",
    "\r\nSet-Cookie: a=b",
    "\ud800",
    "x\udfff",
    "\ufffe",
    "\u202egnp.exe",
    "\u200b\u200b",
    "\u0301" * 200,
    "\U0001f9ea",
    "ﬀ Å Å",
    "١٢٣",
    "1_000",
    "1e999999",
    "-1e999999",
    "NaN",
    "Infinity",
    "-Infinity",
    "-0",
    "+1",
    "0x10",
    "1e-400",
    "9" * 400,
    "0." + "0" * 400 + "1",
    str(2**31),
    str(2**63),
    str(-(2**63)),
    "10" + "0" * 29,
    "1/0",
    "0/0",
    "1 1/0 tsp",
    "-1 g",
    "1e30 g",
    "1e400 g",
    "1,000 g",
    "9" * 60 + " kg",
    "1 to 0 g",
    "1 x 9999999999 g",
    "20 heads x 1e9 l + 900 %",
    "about about 2 g",
    "0000-00-00",
    "0001-01-01",
    "9999-12-31",
    "9999-12-31T23:59:59Z",
    "9999-12-31 23:59",
    "2026-02-30",
    "2026-13-01",
    "1970-01-01T00:00:00+14:00",
    "0001-01-01T00:00:00+14:00",
    "%",
    "_",
    "%%%00",
    "%s%n",
    "' OR 1=1 --",
    '"; DROP TABLE container; --',
    "1; SELECT pg_sleep(9)",
    "{{7*7}}",
    "{% raw %}",
    "${7*7}",
    "#{7*7}",
    "$(id)",
    "`id`",
    "; reboot",
    "../../../etc/passwd",
    "..\\..\\win.ini",
    "C:\\con",
    "file:///etc/passwd",
    "//evil.example",
    "javascript:alert(1)",
    "<script>alert(1)</script>",
    "=cmd|' /C calc'!A0",
    "@SUM(A1)",
    "null",
    "None",
    "true",
    "undefined",
    "[]",
    "{}",
    "a" * 130,
    "a" * 2001,
    "a" * 4001,
    "a" * 100_000,
    "(" * 50_000,
    "1" + " " * 50_000 + "g",
    "1.1.1.1.1",
    ("1/" * 20_000) + "2",
    "½" * 1000,
)

VALUES: Final[tuple[Any, ...]] = (
    *TEXTS,
    None,
    True,
    False,
    0,
    -1,
    1,
    2**31,
    2**53,
    2**63,
    2**64,
    10**30,
    -(10**30),
    0.1,
    -0.0,
    1e308,
    5e-324,
    [],
    {},
    [[]],
    [None],
    [[[[[]]]]],
    {"a": 1},
    {"": ""},
    ["x"] * 1001,
    [2**63],
    ["\x00"],
    [{}],
)

# Written out, because no encoder writes them: what stands in place of one value of a JSON body.
RAW: Final[tuple[str, ...]] = (
    "NaN",
    "Infinity",
    "-Infinity",
    "1e400",
    "-1e400",
    "1e999999",
    "1e-999999",
    "-0",
    "9" * 5000,
    "01",
    "0.1.2",
    '"\\ud800"',
    '"\\udc00\\ud800"',
    '"\\u0000"',
    "[" * 100_000,
    "[" * 100_000 + "]" * 100_000,
    '{"a":' * 50_000,
    "'x'",
    "undefined",
    '"unfinished',
)

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


def forms(app: FastAPI) -> list[Form]:
    """Every posted page of the service with the fields of its form, found in the routes themselves."""
    found = []
    for method, path, route in flat(app.routes):
        if method == "POST" and not path.startswith("/api/") and isinstance(route, APIRoute):
            models = list(_models(route.dependant))
            usual = {name: value for model in models for name, value in _usual(model).items()}
            found.append(Form(path, tuple(usual), usual))
    return sorted(found, key=lambda form: form.path)


def questions(app: FastAPI) -> dict[str, tuple[str, ...]]:
    """For every GET address the names that its query reads, found in the routes themselves."""
    return {
        path: tuple(dict.fromkeys(_asked(route.dependant)))
        for method, path, route in flat(app.routes)
        if method == "GET" and isinstance(route, APIRoute)
    }


def _asked(dependant: Any) -> Iterator[str]:
    yield from (one.alias for one in dependant.query_params)
    for needed in dependant.dependencies:
        yield from _asked(needed)


def _models(dependant: Any) -> Iterator[type[BaseModel]]:
    for needed in dependant.dependencies:
        closed = inspect.getclosurevars(needed.call).nonlocals if inspect.isfunction(needed.call) else {}
        if "model" in closed:
            yield closed["model"]
        yield from _models(needed)


_USUAL: Final[dict[str, str]] = {
    "amount": "1 g", "name": "Something new", "code": "", "reason": "Written down as it was seen",
    "version": "1", "note": "As usual", "count": "1", "material": "1", "material_id": "1", "place": "1",
    "place_id": "1",
}  # fmt: skip


def _usual(model: type[BaseModel]) -> dict[str, str]:
    """Something unremarkable for each field that is needed; the others are sent blank, as browsers do."""
    values = {}
    for name, info in model.model_fields.items():
        words = _words(info.annotation)
        blank = not info.is_required() and name not in _USUAL
        values[name] = "" if blank else words[0] if words else _USUAL.get(name, "1")
    return values


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

    def fresh(self) -> dict[str, Any]:
        """The body with a key of its own, where the call takes one (else it would be refused for it)."""
        return self.body | ({"once": fresh_key()} if ("once",) in self.fields else {})


LEAST: Final[dict[str, dict[str, Any]]] = {
    "/api/recipes/{recipe_id}/versions": {
        "name": "Walnut stain", "version": 1, "lines": [{"material": 1, "amount": "2 tsp"}],
    },
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
            found.append(Call(path, body, tuple(_places(document, schema, ()))))
    return found


def _places(
    document: dict[str, Any], schema: dict[str, Any], at: tuple[str | int, ...]
) -> Iterator[tuple[str | int, ...]]:
    if "$ref" in schema:
        schema = document["components"]["schemas"][schema["$ref"].rsplit("/", 1)[1]]
    for part in schema.get("anyOf", ()):
        yield from _places(document, part, at)
    if schema.get("type") == "array":
        yield from _places(document, schema["items"], (*at, 0))
    for name, inner in schema.get("properties", {}).items():
        yield (*at, name)
        yield from _places(document, inner, (*at, name))


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
