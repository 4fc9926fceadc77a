"""Pages from templates: one environment, one way to answer with a page, and the chrome around every page.

Templates escape everything and fail on a name that is not given. ``set_chrome_provider`` tells the shell
who is signed in and which rags are due; until it is called, pages have a bare header.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any, Final
from zoneinfo import ZoneInfo

import jinja2
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse

from service.core.containers import STANDING_WORDS
from service.core.findings import Finding, Verdict
from service.core.materials import Basis
from service.core.shelf_codes import normalise, show_code
from service.outreach.hazard_labels import HazardLabel, hazard_label_svg
from service.outreach.jar_label import JarLabel, jar_label_svg
from service.outreach.pictograms import pictogram_svg
from service.web.forms import Posted
from service.web.static_files import static_url

THIN: Final = "\u202f"
"""Narrow space that does not break, between groups of three digits."""
HARD: Final = "\u00a0"
MINUS: Final = "\u2212"


@dataclass(frozen=True)
class Section:
    """One link of the menu."""

    key: str
    words: str
    href: str


SECTIONS: Final = (
    Section("today", "Today", "/"),
    Section("store", "Store", "/store"),
    Section("receive", "Receive", "/receive"),
    Section("recipes", "Recipes", "/recipes"),
    Section("bench", "Bench", "/bench"),
    Section("jobs", "Jobs", "/jobs"),
    Section("term", "Term", "/term"),
    Section("rags", "Rags", "/rags"),
    Section("alerts", "Alerts", "/alerts"),
    Section("labels", "Labels", "/labels"),
    Section("records", "Records", "/records"),
    Section("people", "People and settings", "/people"),
    Section("words", "Words", "/words"),
)
SPILL: Final = Section("spill", "Spill or fire", "/spill")
"""Always the last link of the header, on every page, for everyone."""


@dataclass(frozen=True)
class Notice:
    """A rag load near or past its end: what is due, how long there is, and the one button.

    ``minutes_left`` counts down and is below zero when overdue; ``counts`` False keeps it from being shown.
    """

    sentence: str
    minutes_left: int
    href: str
    button: str
    counts: bool = True


@dataclass(frozen=True)
class Flash:
    """What has just been done, told once, with an optional link ("Correct this")."""

    text: str
    href: str = ""
    link: str = ""


@dataclass(frozen=True)
class Chrome:
    """Everything around a page that does not come from the page itself.

    ``duties`` is the number beside Today; ``theme`` is "auto", "light" or "dark"; ``zone`` the shop's time
    zone; ``demo`` shows the demo band; ``scan`` the scan box.
    """

    person: str = ""
    role: str = ""
    account_href: str = "/me"
    shop: str = ""
    notices: tuple[Notice, ...] = ()
    duties: int = 0
    flash: Flash | None = None
    theme: str = "auto"
    section: str = ""
    demo: bool = False
    scan: bool = False
    zone: str = "UTC"
    sections: tuple[Section, ...] = SECTIONS
    spill: Section = field(default=SPILL)


ChromeProvider = Callable[[Request], Chrome]
_provider: list[ChromeProvider] = []


def set_chrome_provider(provider: ChromeProvider | None) -> None:
    """Tell the shell how to find the chrome of a request (None: bare). Called once by the app."""
    _provider[:] = [provider] if provider else []


def page(
    request: Request,
    template: str,
    ctx: Mapping[str, Any] | None = None,
    status_code: int = 200,
    *,
    section: str = "",
    scan: bool = False,
    headers: Mapping[str, str] | None = None,
    bare: bool = False,
) -> HTMLResponse:
    """The page ``template`` with ``ctx``. Any `Posted` with errors in ``ctx`` marks the title with "Error: ".

    ``section`` lights the menu's link; ``scan`` shows the scan box; ``bare`` does not ask for the chrome.
    """
    context = dict(ctx or {})
    failed = any(isinstance(value, Posted) and value.errors for value in context.values())
    chrome = Chrome() if bare else _chrome(request, forgiving=status_code >= 400)
    chrome = replace(chrome, section=section or chrome.section, scan=scan or chrome.scan)
    context |= {"chrome": chrome, "request_path": request.url.path, "title_prefix": "Error: " * failed}
    context["answered"] = request.method == "POST"
    html = environment.get_template(template).render(context)
    return HTMLResponse(html, status_code, dict(headers or {}))


def _chrome(request: Request, *, forgiving: bool) -> Chrome:
    if not _provider:
        return Chrome()
    try:
        return _provider[0](request)
    except Exception:
        if forgiving:  # the page about an error must not fail over its own header
            return Chrome()
        raise


def day(value: date | None) -> str:
    """A day in words, or "not known".

    >>> day(date(2026, 3, 12)), day(None)
    ('12\\xa0Mar\\xa02026', 'not known')
    """
    if value is None:
        return "not known"
    return f"{value.day}{HARD}{value:%b}{HARD}{value.year}"


@jinja2.pass_context
def _instant(context: jinja2.runtime.Context, value: datetime | None) -> str:
    return instant(value, context["chrome"].zone)


@jinja2.pass_context
def _clock(context: jinja2.runtime.Context, value: datetime) -> str:
    return f"{value.astimezone(ZoneInfo(context['chrome'].zone)):%H:%M}"


def instant(value: datetime | None, zone: str) -> str:
    """A moment on the shop's clock.

    >>> instant(datetime(2026, 3, 12, 13, 5, tzinfo=UTC), "Europe/Berlin").replace(HARD, " ")
    '12 Mar 2026, 14:05'
    """
    if value is None:
        return "not known"
    local = value.astimezone(ZoneInfo(zone))
    return f"{day(local.date())}, {local:%H:%M}"


def number(value: Decimal | int | float | None, places: int | None = None) -> str:
    """A number for people: groups of three from five digits on, a true minus; None is "not known".

    >>> number(Decimal("-12500.50")) == MINUS + "12" + THIN + "500.50"
    True
    >>> number(1250), number(None), number(Decimal("1E+3")), number(0.5, 2)
    ('1250', 'not known', '1000', '0.50')
    """
    if value is None:
        return "not known"
    exact = Decimal(str(value))
    plain = f"{exact:f}" if places is None else f"{exact:.{places}f}"
    sign = MINUS if plain.startswith("-") else ""
    whole, point, rest = plain.lstrip("-").partition(".")
    if len(whole) > 4:
        whole = f"{int(whole):,}".replace(",", THIN)
    return f"{sign}{whole}{point}{rest}"


def amount(minor: int | None, basis: Basis | str, unit: str = "") -> str:
    """A stored amount (mg, microlitres or pieces) with its unit, exact; None is "not known".

    Without ``unit`` grams and millilitres, below one of them mg and microlitres.

    >>> amount(250_000, "mass").replace(HARD, " "), amount(500, "mass").replace(HARD, " ")
    ('250 g', '500 mg')
    >>> amount(1_500_000, "volume", "l").replace(HARD, " "), amount(None, "mass")
    ('1.5 l', 'not known')
    """
    if minor is None:
        return "not known"
    if Basis(basis) is Basis.PIECES:
        return f"{number(minor)}{HARD}{'piece' if abs(minor) == 1 else 'pieces'}"
    small, middle, large = ("mg", "g", "kg") if Basis(basis) is Basis.MASS else ("µl", "ml", "l")
    unit = unit or (small if 0 < abs(minor) < 1000 else middle)
    value = Decimal(minor) / {small: 1, middle: 1000, large: 1_000_000}[unit]
    return f"{number(_trim(value))}{HARD}{unit}"


def _trim(value: Decimal) -> Decimal:
    whole = value.to_integral_value()
    return whole if value == whole else value.normalize()


def span(minutes: int) -> str:
    """A length of time in hours and minutes, without sign.

    >>> span(42).replace(HARD, " "), span(-190).replace(HARD, " "), span(120).replace(HARD, " ")
    ('42 min', '3 h 10 min', '2 h')
    """
    hours, rest = divmod(abs(minutes), 60)
    parts = [f"{hours}{HARD}h"] if hours else []
    if rest or not hours:
        parts.append(f"{rest}{HARD}min")
    return HARD.join(parts)


def left(minutes: int) -> str:
    """ "42 min left" or "overdue 3 h 10 min"."""
    return f"{span(minutes)} left" if minutes >= 0 else f"overdue {span(minutes)}"


def iso(value: datetime | date) -> str:
    """For ``<time datetime>``: a day as it is, a moment in UTC."""
    return value.astimezone(UTC).isoformat() if isinstance(value, datetime) else value.isoformat()


def check_result(verdict: Verdict) -> str:
    """The headline over a list of reasons: it says what stands in the way, never that nothing does."""
    if verdict.blocking:
        return "This stops it"
    if not verdict.complete:
        return "Something is not known"
    return "Read before you go on" if verdict.findings else "No rule of the shop objects"


def beside(finding: Finding) -> str:
    """What the finding is about, for the line under its sentence; empty when the sentence names it already.

    >>> from service.core.findings import warn
    >>> beside(warn("estimated", "What is in W36 MT2 is an estimate.", about="W36MT2"))
    ''
    >>> beside(warn("estimated", "It is an estimate.", about="W36MT2"))
    'W36 MT2'
    """
    plain = normalise(finding.about)
    words = show_code(plain) if plain else finding.about
    return "" if words.casefold() in finding.sentence.replace(HARD, " ").casefold() else words


def _drawn_pictogram(code: str) -> Markup:
    """One of the nine pictograms; drawn from our own table, nothing a person typed is in it."""
    return Markup(pictogram_svg(code))


def _drawn_label(label: HazardLabel) -> Markup:
    """A hazard label of its true size; its maker escapes every word on it."""
    return Markup(hazard_label_svg(label))


def _drawn_jar(label: JarLabel) -> Markup:
    """A jar label of its true size; its maker escapes every word on it."""
    return Markup(jar_label_svg(label))


def _environment() -> jinja2.Environment:
    env = jinja2.Environment(
        loader=jinja2.FileSystemLoader(Path(__file__).parent / "templates"),
        autoescape=True,  # for every ending: the framework's default leaves .svg and .txt unescaped
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
    )
    env.filters |= {
        "pictogram": _drawn_pictogram,
        "drawn_label": _drawn_label,
        "drawn_jar": _drawn_jar,
        "day": day, "instant": _instant, "clock": _clock, "number": number, "amount": amount,
        "span": span, "left": left, "iso": iso, "check_result": check_result,
        "beside": beside,
    }
    env.globals |= {"static_url": static_url, "standing_words": STANDING_WORDS}
    return env


environment: Final = _environment()
