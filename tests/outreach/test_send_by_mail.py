"""Mail leaves over a real server: encrypted as set, one line per head, bounded in time."""

from __future__ import annotations

import dataclasses
import time
from pathlib import Path

import pytest

from service.actions.outbox import CLAIM_LASTS
from service.outreach.envelope import Envelope, NotSent
from service.outreach.send_by_mail import SEND_WITHIN_S, send_by_mail
from tests.builders import NOW
from tests.mail_server import SENDER, free_port, mail_server, mute_server

PLAIN = Envelope(
    "orla@shop.example", "Orla Brandt", "<a.1@shop.example>", "OVERDUE: rags", "Take them out – now."
)


def failure(server: object, envelope: Envelope = PLAIN, **bounds: float) -> NotSent:
    with pytest.raises(NotSent) as caught:
        send_by_mail(server, envelope, "The Shop", NOW, **bounds)  # type: ignore[arg-type]
    return caught.value


@pytest.mark.parametrize("security", ["none", "starttls", "tls"])
def test_a_mail_arrives_and_says_what_was_written(security: str, tmp_path: Path) -> None:
    with mail_server(security, tmp_path) as box:
        ca = str(tmp_path / "ca.pem") if security != "none" else ""
        send_by_mail(box.server(security, ca=ca), PLAIN, "Harbour Lane", NOW)
    ((to, mail),) = box.mails
    assert (to, box.encrypted) == ("orla@shop.example", [security != "none"])
    assert mail["Message-ID"] == "<a.1@shop.example>" and mail["Subject"] == "OVERDUE: rags"
    assert mail["From"] == f"Harbour Lane <{SENDER}>" and mail["To"] == "Orla Brandt <orla@shop.example>"
    assert mail["Auto-Submitted"] == "auto-generated"
    assert mail.get_content().strip() == "Take them out – now."


def test_signing_in_with_the_right_password_and_a_wrong_one_is_never_shown(tmp_path: Path) -> None:
    with mail_server("starttls", tmp_path, sign_in=True) as box:
        right = box.server("starttls", ca=str(tmp_path / "ca.pem"), user="store", password="a long password")
        send_by_mail(right, PLAIN, "The Shop", NOW)
        wrong = failure(dataclasses.replace(right, password="hidden-word"))
        nobody = failure(dataclasses.replace(right, user="", password=""))
    assert box.to == ["orla@shop.example"]
    assert wrong.kind == "way" and "sign-in: 535" in wrong.words and "hidden-word" not in wrong.words
    assert nobody.kind == "way" and "530" in nobody.words
    assert "hidden-word" not in repr(dataclasses.replace(right, password="hidden-word"))


@pytest.mark.parametrize("security", ["starttls", "tls"])
def test_a_certificate_of_somebody_else_stops_the_mail(security: str, tmp_path: Path) -> None:
    with mail_server(security, tmp_path) as box:
        found = failure(box.server(security))
    assert found.kind == "way" and "could not be encrypted" in found.words and not box.mails


def test_a_server_without_encryption_gets_no_mail_that_asks_for_it(tmp_path: Path) -> None:
    with mail_server() as box:
        found = failure(box.server("starttls", user="store", password="a long password"))
    assert found.kind == "way" and "STARTTLS" in found.words and not box.mails


@pytest.mark.parametrize(
    ("answer", "kind"), [("550 5.1.1 no such box", "address"), ("451 4.7.1 try later", "message")]
)
def test_a_refused_address_is_told_from_a_refusal_for_now(answer: str, kind: str) -> None:
    with mail_server() as box:
        box.answers["orla@shop.example"] = answer
        found = failure(box.server())
    assert found.kind == kind and answer in found.words


def test_a_refused_text_is_the_messages_own_trouble() -> None:
    with mail_server() as box:
        box.data_answer = "554 looks odd"
        found = failure(box.server())
    assert found.kind == "message" and "554 looks odd" in found.words


def test_a_server_that_is_away_or_mute_or_endless_is_given_up_in_time() -> None:
    with mail_server() as box:
        server = box.server()
    away = failure(dataclasses.replace(server, port=free_port()))
    assert away.kind == "way" and "refused" in away.words.lower()
    began = time.monotonic()
    with mute_server() as port:
        mute = failure(dataclasses.replace(server, port=port), step_s=0.3)
    with mute_server(drip_s=0.05) as port:
        # Each sign comes within the bound of a step; the bound of the whole ends it.
        endless = failure(dataclasses.replace(server, port=port), step_s=0.5, within_s=1.0)
    assert mute.kind == endless.kind == "way"
    assert "in time" in endless.words and "timed out" in mute.words
    assert time.monotonic() - began < 10
    assert CLAIM_LASTS.total_seconds() > 2 * SEND_WITHIN_S, "a claim must outlast the slowest try"


HOSTILE = [
    "Orla\r\nBcc: everybody@elsewhere.example",
    "Orla\nSubject: another",
    "O\x00rla\x0b\x1b[31m",
    "Orla\u2028Bcc: x@y.example",
    '"Orla" <other@elsewhere.example>, more@elsewhere.example',
    "=?utf-8?q?Orla=0ABcc:_x@y.example?=",
    "Orla \u202egnihtemos\u202c",
    "\ud800 half a sign",
    "名前" * 80,
    "",
]


@pytest.mark.parametrize("name", HOSTILE)
def test_no_name_adds_a_line_a_recipient_or_an_unseen_sign_to_the_head(name: str) -> None:
    with mail_server() as box:
        hostile = dataclasses.replace(PLAIN, name=name, subject=f"OVERDUE: {name}")
        send_by_mail(box.server(), hostile, name, NOW)
    ((to, mail),) = box.mails
    assert to == "orla@shop.example"
    assert sorted(key.lower() for key in mail) == sorted(
        ["from", "to", "subject", "date", "message-id", "auto-submitted", "content-type",
         "content-transfer-encoding", "mime-version"]
    )  # fmt: skip
    assert [a.addr_spec for a in mail["To"].addresses] == ["orla@shop.example"]
    assert [a.addr_spec for a in mail["From"].addresses] == [SENDER]
    assert not any(ord(sign) < 32 for sign in str(mail["Subject"]) + str(mail["To"]))


@pytest.mark.parametrize(
    "address",
    ["", "orla", "orla@shop.example\r\nRCPT TO:<x@y.example>", "a b@shop.example", "<orla@shop.example>",
     "orla@shop.example, x@y.example", "orla@shop.example\x00", "ö@shop.example"],
)  # fmt: skip
def test_an_address_that_is_none_never_reaches_the_wire(address: str) -> None:
    with mail_server() as box:
        found = failure(box.server(), dataclasses.replace(PLAIN, to=address))
        assert found.kind == "address" and not box.mails
