"""Pages: escaping, missing names, the chrome, the macros, and how dates and numbers are written."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import jinja2
import pytest
from starlette.requests import Request

from service.core.findings import Reading, Verdict, note, stop, unknown, warn
from service.web import render
from service.web.forms import filled
from service.web.pages.patterns import form_shown, verdict_shown


def request(path: str = "/store") -> Request:
    return Request(
        {
            "type": "http",
            "method": "GET",
            "path": path,
            "headers": [],
            "query_string": b"",
            "scheme": "http",
            "server": ("shop", 80),
        }
    )


def html(template: str, **context: Any) -> str:
    return render.environment.from_string(template).render(
        chrome=render.Chrome(zone="Europe/Berlin"), **context
    )


def shown(chrome: render.Chrome, **options: Any) -> str:
    render.set_chrome_provider(lambda _: chrome)
    try:
        context = {
            "title": "T",
            "question": "Q",
            "rows": [],
            "action": "/x",
            "keep": {},
            "once": "k" * 8,
            "words": "Do it",
            "back": "/",
            "danger": False,
        }
        return bytes(render.page(request(), "parts/confirm.html", context, **options).body).decode()
    finally:
        render.set_chrome_provider(None)


def test_a_name_that_is_not_given_is_an_error() -> None:
    with pytest.raises(jinja2.UndefinedError):
        html("{{ never_given }}")


def test_everything_is_escaped() -> None:
    assert html("{{ x }}", x="<script>") == "&lt;script&gt;"
    nasty = '"><script>alert(1)</script>'
    out = html(
        '{% import "parts/fields.html" as f %}{{ f.text(p, "a", x, x) }}{{ f.area(p, "a", x) }}'
        '{{ f.select(p, "a", x, [(x, x)]) }}{{ f.choices(p, "a", x, [(x, x, x)]) }}{{ f.summary(p) }}',
        p=_wrong(nasty),
        x=nasty,
    )
    assert "<script>" not in out


def _wrong(text: str) -> Any:
    p = filled(a=text)
    p.refuse("a", text, (Reading(text, text),))
    return p


def test_the_chrome_around_a_page() -> None:
    out = shown(
        render.Chrome(
            person="Asha <b>",
            role="finisher",
            duties=3,
            section="store",
            demo=True,
            scan=True,
            theme="dark",
            notices=(render.Notice("Rags are loose.", -190, "/rags", "Put them away"),),
            flash=render.Flash("Drew 250 g.", "/c", "Correct this"),
        )
    )
    assert "Asha &lt;b&gt;" in out and 'data-theme="dark"' in out and "Demo shop" in out
    assert 'aria-current="page"' in out and 'action="/scan" method="get"' in out
    assert (
        "overdue 3\u00a0h\u00a010\u00a0min" in out and 'data-minutes="-190"' in out and "Put them away" in out
    )
    assert 'role="status"' in out and "Correct this" in out
    assert 'class="skip" href="#main"' in out


def test_spill_or_fire_is_the_last_link_of_the_header_on_every_page() -> None:
    for chrome in (render.Chrome(), render.Chrome(person="A", scan=True, sections=())):
        header = re.search(r"<header.*?</header>", shown(chrome), re.DOTALL)
        assert header is not None
        links = re.findall(r"<a [^>]*>(.*?)</a>", header[0], re.DOTALL)
        assert "Spill or fire" in links[-1]
    assert [s.words for s in render.SECTIONS] == [
        "Today",
        "Store",
        "Receive",
        "Recipes",
        "Bench",
        "Jobs",
        "Term",
        "Rags",
        "Alerts",
        "Labels",
        "Records",
        "People and settings",
        "Words",
    ]


def test_a_page_with_errors_says_so_in_its_title() -> None:
    context = {
        "verdict": verdict_shown(),
        "bad": form_shown(),
        "columns": [{"key": "a", "label": "A"}],
        "rows": [],
        "today": date(2026, 11, 25),
        "methods": [],
    }
    answer = render.page(request(), "patterns.html", context, 422)
    assert answer.status_code == 422 and b"<title>Error: Patterns" in bytes(answer.body)


def test_a_field_with_an_error_is_tied_together() -> None:
    out = html(
        '{% import "parts/fields.html" as f %}{{ f.number(p, "amount", "Amount, in grams", "g", "A hint") }}',
        p=form_shown(),
    )
    assert 'id="f-amount"' in out and 'for="f-amount"' in out and 'aria-invalid="true"' in out
    assert (
        'aria-describedby="h-amount e-amount"' in out and "required" not in out and 'type="number"' not in out
    )
    assert 'inputmode="decimal"' in out


def test_enter_never_chooses_a_reading_and_a_reading_is_sent_last() -> None:
    out = html('{% import "parts/fields.html" as f %}{{ f.number(p, "amount", "A", "g") }}', p=form_shown())
    buttons = re.findall(r"<button[^>]*>", out)
    assert "name=" not in buttons[0] and 'value="1"' in buttons[1] and 'value="1000"' in buttons[2]
    assert out.index("<input") < out.index("<button")


def test_passwords_are_not_shown_again() -> None:
    assert "hunter" not in html(
        '{% import "parts/fields.html" as f %}{{ f.text(p, "a", "A", kind="password") }}',
        p=filled(a="hunter"),
    )


def test_standings_are_shape_and_word() -> None:
    shapes = set()
    for value, words in render.STANDING_WORDS.items():
        out = html('{% import "parts/tags.html" as t %}{{ t.standing(v) }}', v=value)
        assert words in out and "<svg" in out and 'aria-hidden="true"' in out
        shapes.add(re.sub(r'class="[^"]*"', "", out.split("</svg>")[0].split("<svg")[1]))
    assert len(shapes) == 4


def test_severities_are_shape_and_word() -> None:
    verdict = Verdict.of([stop("a", "A."), warn("b", "B."), unknown("c", "C.", "a source"), note("d", "D.")])
    out = html('{% import "parts/verdict.html" as v %}{{ v.result(x) }}', x=verdict)
    for words in ("Stops it", "Look out", "Not known", "Note", "Source: a source", "this stops it"):
        assert words in out


@pytest.mark.parametrize(
    ("verdict", "words"),
    [
        (Verdict.of([stop("a", "A."), unknown("b", "B.")]), "This stops it"),
        (Verdict.of([unknown("b", "B."), note("c", "C.")]), "Something is not known"),
        (Verdict.of([note("c", "C.")]), "Read before you go on"),
        (Verdict(), "No rule of the shop objects"),
    ],
)
def test_the_headline_never_says_more_than_the_findings(verdict: Verdict, words: str) -> None:
    assert render.check_result(verdict) == words


def test_a_listing_is_a_table_and_cards_of_the_same_cells() -> None:
    out = html(
        '{% import "parts/blocks.html" as b %}{{ b.listing("Store", c, r) }}',
        c=[{"key": "n", "label": "Name"}, {"key": "a", "label": "Amount, in grams", "number": True}],
        r=[{"n": {"href": "/c/1", "words": "Umber & co"}, "a": None}],
    )
    assert out.count("Umber &amp; co") == 2 and out.count("not known") == 2
    assert "<caption>" in out and 'scope="col"' in out and 'scope="row"' in out


def test_instants_are_on_the_shop_clock() -> None:
    out = html(
        "{{ t|instant }} / {{ none_yet|instant }} / {{ t|clock }}",
        t=datetime(2026, 7, 1, 22, 30, tzinfo=UTC),
        none_yet=None,
    )
    assert out.replace("\u00a0", " ") == "2 Jul 2026, 00:30 / not known / 00:30"


@pytest.mark.parametrize(
    ("value", "places", "text"),
    [
        (None, None, "not known"),
        (0, None, "0"),
        (9999, None, "9999"),
        (10000, None, "10 000"),
        (Decimal("-1234567.5"), None, "−1 234 567.5"),
        (Decimal("1E+3"), None, "1000"),
        (Decimal("2.50"), None, "2.50"),
        (Decimal("0.125"), 2, "0.12"),
        (0.1, None, "0.1"),
    ],
)
def test_numbers(value: Any, places: int | None, text: str) -> None:
    assert render.number(value, places).replace(render.THIN, " ") == text


@pytest.mark.parametrize(
    ("minor", "basis", "unit", "text"),
    [
        (None, "mass", "", "not known"),
        (0, "mass", "", "0 g"),
        (999, "volume", "", "999 µl"),
        (1, "pieces", "", "1 piece"),
        (12, "pieces", "", "12 pieces"),
        (1001, "mass", "", "1.001 g"),
        (12_345_678, "volume", "l", "12.345678 l"),
        (-500_000, "mass", "", "−500 g"),
        (20_000_000, "mass", "kg", "20 kg"),
    ],
)
def test_amounts_are_exact(minor: int | None, basis: str, unit: str, text: str) -> None:
    assert render.amount(minor, basis, unit).replace(render.HARD, " ").replace(render.THIN, " ") == text
