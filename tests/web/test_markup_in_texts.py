"""Texts that look like markup, in every name, note and label: shown letter by letter, never acted on.

Each page is taken apart as a browser would: nothing of a text may have become an element or an attribute,
wherever it shows it is whole, and no page holds what the content policy would stop.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any, Final

from fastapi.testclient import TestClient
from sqlmodel import col, func, select

from service.core.access import Role
from service.records.people import Person
from service.web.guard import CONTENT_SECURITY_POLICY
from service.web.route_table import ROWS
from tests.web.conftest import Shop

# Each begins with its own mark; elements and attributes in it carry "zx", so that one is known when it lives.
_MARKUP: Final = (
    "<script>zx(1)</script>",
    "<ScRiPt zx>zx()</sCrIpT>",
    "</script><script>zx()</script>",
    "<script src=//zx.example>",
    "<img src=x onerror=zx()>",
    "<img/src/onerror=zx()>",
    "<svg onload=zx()>",
    "<svg><script>zx()</script>",
    "<zx>",
    "<zx onclick=zx()>a</zx>",
    "<b zx=1>",
    "<a href=javascript:zx()>",
    '" onfocus=zx() autofocus zx="',
    "' onfocus=zx() autofocus zx='",
    '"><zx a="',
    "'><zx a='",
    "`onload=zx()`",
    "--><zx>",
    "<!--zx",
    "<![CDATA[<zx>]]>",
    "]]><zx>",
    "</title><zx>",
    "</textarea><zx>",
    "</style><zx>",
    "</option></select><zx>",
    "</td></table><zx>",
    "</form><form action=//zx>",
    "<base href=//zx.example>",
    "<meta http-equiv=refresh content=0>",
    "<style>*{zx:1}</style>",
    "<iframe srcdoc='<zx>'>",
    "<?zx?>",
    "<math><mi zx>",
    "&lt;zx&gt;",
    "&#60;zx&#62;",
    "&amp;lt;zx",
    "&quot; onzx=&quot;",
    "{{ 7 * 7 }}zx",
    "{% zx %}",
    "\\u003czx\\u003e",
    "+ADw-zx+AD4-",
    "<plaintext>zx",
)
PAYLOADS: Final = tuple(f"zq{number:02}q{text}" for number, text in enumerate(_MARKUP))
ROUNDS: Final = 4


@dataclass
class Seen(HTMLParser):
    """A page taken apart: what its elements are, and every text and attribute value in it."""

    wrong: list[str] = field(default_factory=list)
    texts: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        super().__init__(convert_charrefs=True)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        names = dict(attrs)
        if "zx" in tag or tag in ("base", "iframe", "style", "plaintext", "math", "object", "embed"):
            self.wrong.append(f"<{tag}>")
        if tag == "script" and "src" not in names:
            self.wrong.append("a script in the page")
        if tag == "meta" and "http-equiv" in names:
            self.wrong.append("meta http-equiv")
        for name, value in attrs:
            if "zx" in name or name.startswith("on") or name == "style":
                self.wrong.append(f"<{tag} {name}>")
            if name in ("href", "src", "action", "formaction") and not _leads_here(value or ""):
                self.wrong.append(f"{name}={value}")
            self.texts.append(value or "")

    def handle_data(self, data: str) -> None:
        self.texts.append(data)

    def handle_comment(self, data: str) -> None:
        if "z" in data:
            self.wrong.append(f"<!--{data}-->")


def _leads_here(address: str) -> bool:
    return (
        address.lower().startswith(("/", "#", "?", "tel:", "data:image/", "https://")) or ":" not in address
    )


def cut(shown: str, payload: str) -> bool:
    """Whether a text with the mark of a payload shows less than all of it (an ellipsis may shorten it)."""
    start = payload[:5]
    while start in shown:
        shown = shown[shown.index(start) :]
        if not shown.startswith(payload) and "%" not in shown and "…" not in shown:
            return True
        shown = shown[5:]
    return False


@dataclass
class Writer:
    """Writes things down through the calls, with the next payload in every text."""

    client: TestClient
    person: int
    turn: Iterator[str] = field(default_factory=lambda: itertools.cycle(PAYLOADS))
    keys: Iterator[int] = field(default_factory=lambda: itertools.count(1))
    made: dict[str, list[str]] = field(default_factory=dict)

    def next(self) -> str:
        return next(self.turn)

    def post(self, path: str, *texts: str, **body: Any) -> Any:
        body |= {"once": f"m{next(self.keys)}", "person": self.person} | {t: self.next() for t in texts}
        if "late_reason" in body or "reason" in body:
            key = "reason" if "reason" in body else "late_reason"
            body[key] += " and a few words more"  # a reason has letters

        answer = self.client.post(path, json=body)
        assert answer.status_code in (200, 201), (path, body, answer.text)
        return answer.json()

    def keep(self, kind: str, value: object) -> None:
        self.made.setdefault(kind, []).append(str(value))


def written(shop: Shop, writer: Writer) -> None:
    """One of each thing."""
    room = writer.post("/api/places", "name", "note", kind="room")
    can = writer.post("/api/places", "name", "note", kind="rag-can", parent=room["id"], metal=True, lid=True,
                      self_closing=True, listed=True, floor_cannot_burn=True, distance_mm=2000)  # fmt: skip
    facts = {name: writer.next() for name in ("binder", "density_source", "ventilation_source")}
    oil = writer.post("/api/materials", "name", "maker", "ci_name", "note", kind="binder",
                      facts=facts | {"density_g_ml": 0.93, "ventilation_class": 1})  # fmt: skip
    box = writer.post("/api/containers", "supplier", "lot", "note", material=oil["id"], amount="2 l",
                      place=room["id"], packed_on="2026-03-01")["containers"][0]  # fmt: skip
    code = f"/api/containers/{box['code']}"
    job = writer.post("/api/jobs", "name", "note", place=room["id"])["id"]
    began = shop.clock.now.isoformat()
    shop.clock.pass_by(minutes=20)
    drawn = writer.post(
        f"{code}/draws", "late_reason", amount="10 ml", looked=True, job=job, happened_at=began
    )
    writer.post(f"{code}/checks", "note", outcome="passed", job=job)
    writer.post(f"{code}/losses", "note", loss="spilled", amount="1 ml", job=job)
    wrong = writer.post(f"{code}/draws", amount="1 ml", looked=True, job=job)
    writer.post(f"/api/movements/{wrong['movement']}/reversal", "reason")
    line = {"material": oil["id"], "amount": "20 ml", "note": writer.next()}
    recipe = writer.post("/api/recipes", "name", "purpose", "note", lines=[line], makes="20 ml")["id"]
    check = writer.client.post(f"/api/recipes/{recipe}/check", json={}).json()
    batch = writer.post("/api/batches", fingerprint=check["fingerprint"], job=job, looked=[box["code"]])
    writer.post(f"/api/batches/{batch['id']}/finish", "loss_note", made="15 ml")
    writer.post(f"{code}/moves", "handed_to", "note", job=job)
    load = drawn["rag_load"]
    writer.post(f"/api/rag-loads/{load}/entries", "witness", "note", step="in-can", can=can["id"])
    for kind, value in (("place_id", room["id"]), ("place_id", can["id"]), ("material_id", oil["id"]),
                        ("code", box["code"]), ("job_id", job), ("recipe_id", recipe), ("load_id", load),
                        ("batch_id", batch["id"]), ("movement_id", wrong["movement"])):  # fmt: skip
        writer.keep(kind, value)


def set_up(shop: Shop, writer: Writer, page: TestClient) -> None:
    """What has no call: people, the shop's own texts, tablets, tokens, policies."""
    for path, names, more in (
        ("/people/new", ("name",), {"role": "finisher"}),
        ("/shop/numbers", ("who",), {"number": "555 0100"}),
        ("/shop/emergency", ("emergency_text",), {"version": "1"}),
        ("/devices", ("device_name",), {}),
        ("/tokens", ("label",), {"role": "reader"}),
    ):
        answer = page.post(path, data=more | {name: writer.next() for name in names})
        assert answer.status_code in (200, 303, 409), (path, answer.text[:2000])
    with shop.database.reading() as session:
        people = session.exec(select(func.max(col(Person.id)))).one()
    writer.keep("person_id", people)


def filled(path: str, made: dict[str, list[str]], number: int) -> str:
    for kind, values in made.items():
        path = path.replace("{" + kind + "}", values[number % len(values)])
    return path.replace("{kind}", "binder").replace("{found}", "mould").replace("{key}", "tung")


def test_markup_in_texts_is_shown_and_never_lives(shop: Shop) -> None:
    page = shop.signed_in(Role.KEEPER)
    assert shop.cast.keeper.id is not None
    writer = Writer(shop.api(Role.KEEPER), shop.cast.keeper.id)
    for _ in range(ROUNDS):
        written(shop, writer)
        set_up(shop, writer, page)
    labels = "&".join(f"code={code}" for code in writer.made["code"])
    addresses = {
        f"/labels/print?{labels}",
        f"/labels?{labels}",
        "/store?q=zq",
        "/materials?q=zq",
        "/recipes?q=zq",
    }
    for row in ROWS:
        if row.method == "GET" and not row.path.startswith(("/api/", "/static/")):
            addresses |= {filled(row.path, writer.made, number) for number in range(2 * ROUNDS)}
    shown: set[str] = set()
    faults: list[str] = []
    pages = 0
    for address in sorted(addresses):
        answer = page.get(address)
        assert answer.status_code < 500, address
        if not answer.headers.get("content-type", "").startswith("text/html"):
            continue
        pages += 1
        assert answer.headers["content-security-policy"] == CONTENT_SECURITY_POLICY, address
        seen = Seen()
        seen.feed(answer.text)
        faults += [f"{address}: {fault}" for fault in seen.wrong]
        for text in (one for one in seen.texts if "zq" in one):
            there = [payload for payload in PAYLOADS if payload in text]
            shown.update(there)
            faults += [f"{address}: {text[:200]}" for payload in PAYLOADS if cut(text, payload)]
    assert faults == []
    assert pages > 100, pages
    assert shown == set(PAYLOADS)
