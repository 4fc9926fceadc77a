"""The HTML part of the morning mail, and its addresses that leave a kind out, over a real server."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta
from email.message import EmailMessage
from html.parser import HTMLParser

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlmodel import col, select

from service.actions.leave_mail import leave_out, leave_tokens, what_it_leaves
from service.core.access import Role
from service.core.alerts import AlertKind
from service.core.digest import ALL_KINDS, SWITCHABLE, Share, may_be_left
from service.core.findings import NotFound
from service.core.morning_words import Morning, morning_mail
from service.outreach.envelope import Envelope
from service.outreach.mail_page import DARK, LIGHT, mail_page
from service.outreach.send_by_mail import letter
from service.records.engine import Database
from service.records.notices import DigestChoice, MailLeave
from service.records.people import Person
from service.records.shop import Change
from service.sending import one_round
from tests.builders import NOW
from tests.core.test_digest import alert
from tests.mail_server import mail_server
from tests.test_morning_mail import ORLA, PIET, SEVEN, mornings, owes, spoil
from tests.test_morning_mail import warned as warned
from tests.warned_shop import Warned
from tests.web.test_look import contrast

BASE = "https://store.example"


class Words(HTMLParser):
    """What a reader sees, and every address that a page could fetch or lead to."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.said: list[str] = []
        self.leads: list[str] = []
        self.tags: set[str] = set()
        self._in = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self._in = tag
        for name, value in attrs:
            assert name in {
                "style", "class", "href", "lang", "charset", "name", "content"
            }, f"{tag} {name}"
            if name == "href":
                self.leads.append(value or "")

    def handle_endtag(self, tag: str) -> None:
        self._in = ""

    def handle_data(self, data: str) -> None:
        if self._in not in ("style", "title") and data.strip():
            self.said.append(data)


def words(text: str) -> str:
    return " ".join(re.sub(r"(?m)^- ", "", text).split())


def same_words(page: str, text: str) -> None:
    assert " ".join(" ".join(Words(page).said).split()) == words(text)


def html_of(mail: EmailMessage) -> str:
    part = mail.get_body(("html",))
    assert part is not None
    return str(part.get_content())


def test_both_parts_arrive_and_say_the_same_with_what_is_overdue_first(warned: Warned) -> None:
    owes(warned, Role.FINISHER, "Count <b>it</b> & “weigh” it.", SEVEN - timedelta(days=1))
    owes(warned, Role.FINISHER, "Sweep the bench.", SEVEN + timedelta(hours=3))
    spoil(warned, Role.FINISHER)
    with mail_server() as box:
        settings = replace(warned.settings, mail=box.server())
        one_round(warned.shop.database, settings, lambda: SEVEN)
        mail = dict(box.mails)[PIET]
    assert mail.get_content_type() == "multipart/alternative"
    kinds = [part.get_content_type() for part in mail.iter_parts()]
    assert kinds == ["text/plain", "text/html"], "the last is shown where both can be"
    body = mail.get_body(("plain",))
    assert body is not None
    plain = str(body.get_content()).replace("\r\n", "\n").strip()
    page = html_of(mail)
    same_words(page, plain)
    assert page.index("Overdue or past (1)") < page.index("To do today (1)") < page.index("To look at")
    assert "Count &lt;b&gt;it&lt;/b&gt; &amp; “weigh” it." in page and "<b>" not in page
    found = Words(page)
    assert found.leads and all(one.startswith(f"{BASE}/") for one in found.leads)
    assert not found.tags & {"img", "script", "link", "iframe", "form", "svg", "object", "base"}
    assert "url(" not in page and "@import" not in page and "src=" not in page
    assert all(size >= 16 for size in map(int, re.findall(r"font-size:(\d+)px", page)))
    (address,) = re.findall(r"All that may be left out\n  (\S+)", plain)
    assert mail["List-Unsubscribe"] == f"<{address}>" and address.startswith(f"{BASE}/mail/leave/")
    assert mail["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"
    assert "Duties of the day\n  https" in plain and "Containers to look at first\n  https" in plain
    assert plain.count("/mail/leave/") == 3, "a kind it does not tell of has no address in it"


def test_without_an_address_of_the_service_nothing_is_a_link(warned: Warned) -> None:
    spoil(warned, Role.FINISHER)
    bare = replace(warned, settings=replace(warned.settings, base_url=""))
    sent = mornings(bare, SEVEN)[PIET]
    assert sent.leave == "" and Words(sent.page).leads == [] and "http" not in sent.text + sent.page
    same_words(sent.page, sent.text)


def test_what_must_stop_somebody_has_no_way_out(warned: Warned) -> None:
    owes(warned, Role.FINISHER, "Count it.", SEVEN - timedelta(days=1))
    sent = mornings(warned, SEVEN)
    assert sent[PIET].leave == "" and "/mail/leave/" not in sent[PIET].text + sent[PIET].page
    assert "List-Unsubscribe" not in letter(sent[PIET], "a@b.example", "Shop", NOW)
    assert not {kind.value for kind in (AlertKind.PAST, AlertKind.DUTY_OVERDUE, AlertKind.CHANNEL)} & {
        kind.value for kind in SWITCHABLE
    }
    rags = alert(AlertKind.DUTY, ref="rag-load 3")
    assert may_be_left(Share((rags,), 0, head=True)) == ()
    assert may_be_left(Share((rags, alert(AlertKind.LOOK_FIRST)), 0, head=True)) == ("look-first", ALL_KINDS)


def test_an_address_that_no_program_may_post_to_says_so() -> None:
    envelope = Envelope("o@shop.example", "", "<a@b>", "s", "t", leave="http://store.example/mail/leave/x")
    mail = letter(envelope, "a@b.example", "Shop", NOW)
    assert mail["List-Unsubscribe"] and mail["List-Unsubscribe-Post"] is None


@pytest.mark.parametrize("kind", [*SWITCHABLE, ALL_KINDS])
def test_a_kind_is_left_out_by_its_own_secret_alone(database: Database, warned: Warned, kind: str) -> None:
    kind = str(getattr(kind, "value", kind))
    person = warned.shop.people.finisher.id or 0
    count = iter(range(99))
    with database.writing() as session:
        kinds = [*(one.value for one in SWITCHABLE), ALL_KINDS]
        tokens = leave_tokens(session, person, kinds, SEVEN, lambda: f"secret{next(count)}" + "x" * 40)
        assert session.get(DigestChoice, person) is None
    with database.writing() as session:
        today = SEVEN.date()
        for _ in range(2):
            left, whose = leave_out(session, SEVEN, today, tokens[kind])
            assert (left, whose.id) == (kind, person)
        row = session.get(DigestChoice, person)
        assert row is not None and row.wanted is (kind != ALL_KINDS)
        assert row.kinds_off == ([] if kind == ALL_KINDS else [kind]) and row.version == 1
        change = session.exec(select(Change).where(col(Change.field) == "morning mail")).one()
        assert (change.person_id, change.reason) == (person, "by the address in a mail")
        kept = "".join(str(vars(one)) for one in session.exec(select(MailLeave)))
        assert not any(token in kept for token in tokens.values())
        with pytest.raises(NotFound):
            what_it_leaves(session, SEVEN, today, tokens[kind].upper())
        with pytest.raises(NotFound):
            what_it_leaves(session, SEVEN + timedelta(days=401), today, tokens[kind])
        leave_tokens(session, person, ["duty"], SEVEN + timedelta(days=401), lambda: "later" + "x" * 40)
        assert len(session.exec(select(MailLeave)).all()) == 1, "those that are too old went"
        who = session.get(Person, person)
        assert who is not None
        who.active = False
        session.flush()
        with pytest.raises(NotFound):
            leave_out(session, SEVEN + timedelta(days=401), today, "later" + "x" * 40)


def test_what_was_left_out_by_a_mail_is_left_out_of_the_next(database: Database, warned: Warned) -> None:
    spoil(warned, Role.FINISHER)
    owes(warned, Role.FINISHER, "Count it.", SEVEN + timedelta(days=1, hours=-1))
    first = mornings(warned, SEVEN)[PIET]
    (token,) = re.findall(r"look at first\n  https://store.example/mail/leave/(\S+)", first.text)
    with database.writing() as session:
        leave_out(session, SEVEN, SEVEN.date(), token)
    second = mornings(warned, SEVEN + timedelta(days=1))
    assert "Count it." in second[PIET].text and "look first" not in second[PIET].text
    assert "look first" in second[ORLA].text, "a keeper is told of it instead"
    assert "Left out, as you chose: 1." in second[PIET].text


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
def test_it_is_legible_in_both_themes(theme: dict[str, str]) -> None:
    pairs = [("ink", "ground"), ("ink", "paper"), ("ink", "redground"), ("red", "redground"),
             ("soft", "ground"), ("link", "paper"), ("link", "ground"), ("link", "redground")]  # fmt: skip
    for ink, ground in pairs:
        assert contrast(theme[ink], theme[ground]) >= 4.5, (ink, ground)
    assert contrast(theme["red"], theme["ground"]) >= 3


def test_every_colour_has_its_dark_one() -> None:
    """A heading whose ink stayed dark on the dark page was there and could not be seen."""
    made = morning_mail(
        Morning("Shop", SEVEN.date(), Share((alert(AlertKind.PAST), alert(AlertKind.DUTY)), 1, head=False), 1,
                None, BASE), SEVEN.tzinfo,  # type: ignore[arg-type]
    )  # fmt: skip
    page = mail_page(made.subject, made.text, BASE)
    coloured = re.findall(r'<(\w+)([^>]*)style="([^"]*(?:color|background):[^"]*)"', page)
    assert {tag for tag, _, _ in coloured} == {"body", "div", "h2", "p", "a"}
    for _, attributes, _ in coloured:
        (name,) = re.findall(r'class="(\w)"', attributes)
        assert re.search(rf"\.{name}{{[^}}]*color:#\w+!important", page), name


def test_any_text_is_shown_and_none_becomes_markup() -> None:
    odd = st.text(max_size=80) | st.sampled_from(
        ["<script>x</script>", '"><img src=x>', f"{BASE}/x\"onmouseover=1", "&amp;", "</style>", "- a:", "::"]
    )

    @given(st.lists(odd, min_size=1, max_size=6), st.sampled_from([BASE, ""]))
    def holds(sentences: list[str], base: str) -> None:
        kinds = [AlertKind.PAST, AlertKind.DUTY, AlertKind.LOOK_FIRST] * 2
        told = zip(kinds, sentences, strict=False)
        alerts = tuple(replace(alert(kind), sentence=said) for kind, said in told)
        said = Morning("The <Shop>", SEVEN.date(), Share(alerts, 1, head=False), 1, None, base)
        made = morning_mail(said, SEVEN.tzinfo)  # type: ignore[arg-type]
        page = mail_page(made.subject, made.text, base)
        assert all(one.startswith(f"{BASE}/") for one in Words(page).leads)
        assert not Words(page).tags & {"script", "img"}
        same_words(page, made.text)

    holds()


def test_a_mail_too_full_for_its_sentences_keeps_what_is_past_in_its_box() -> None:
    past = alert(AlertKind.PAST)
    many = tuple(replace(past, sentence=f"Tin {n} is past. " + "x" * 200) for n in range(700))
    said = Morning("Shop", SEVEN.date(), Share(many, 0, head=False), 1, None, BASE)
    made = morning_mail(said, SEVEN.tzinfo)  # type: ignore[arg-type]
    page = mail_page(made.subject, made.text, BASE)
    assert "THE MAIL IS FULL" in page and 'class="r"' in page
    same_words(page, made.text)
