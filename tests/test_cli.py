"""The command: what it prints where, and what it refuses in a sentence."""

from __future__ import annotations

import dataclasses
import io
import socket
from pathlib import Path

import pytest
from sqlmodel import select

from service.actions.api_tokens import find_api_token
from service.actions.set_up_shop import make_profile
from service.cli import build_parser, main
from service.config import Settings, read_settings
from service.core.access import Role
from service.records.engine import Database
from service.records.people import Person
from service.records.shop import ShopProfile
from service.serving import (
    SERVED_AT,
    CannotServe,
    bind,
    judge_address,
    opened,
    prepare_demo,
    told_where,
)
from tests.builders import NOW, TODAY


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder, and no setting from outside."""
    import os

    for name in [key for key in os.environ if key.startswith("UMBERKEEP_")]:
        monkeypatch.delenv(name)
    return tmp_path / "shop"


def database_in(data: Path) -> Database:
    return opened(read_settings({}, data=str(data)))


def test_a_token_stands_alone_on_standard_output(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["token", "new", "--role", "keeper", "--label", "a script", "--data", str(data)]) == 0
    said = capsys.readouterr()
    token = said.out.removesuffix("\n")
    assert "\n" not in token and len(token) >= 43
    assert "time zone" in said.err
    with database_in(data).reading() as session:
        found = find_api_token(session, token, TODAY)
        assert found is not None and found.role is Role.KEEPER
        assert session.get(ShopProfile, 1) is not None, "a script must be able to begin"
    assert main(["token", "list", "--data", str(data)]) == 0
    assert token not in capsys.readouterr().out
    assert main(["token", "revoke", "1", "--data", str(data)]) == 0
    assert main(["token", "revoke", "77", "--data", str(data)]) == 1
    assert "no such token" in capsys.readouterr().err


def test_the_first_keeper_without_a_browser_then_links_for_them(
    data: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    where = ["--data", str(data)]
    assert main(["sign-in-link", *where]) == 0
    assert "first keeper" in capsys.readouterr().err
    first = ["first-keeper", "--name", "Orla", "--sign-in-name", "orla", "--shop", "Lane"]
    for code in (0, 1):
        monkeypatch.setattr("sys.stdin", io.StringIO("four walnut drawers\n"))
        assert main([*first, "--time-zone", "UTC", *where]) == code
    assert main(["sign-in-link", "--port", "8123", *where]) == 0
    said = capsys.readouterr()
    assert "http://127.0.0.1:8123/sign-in/once/" in said.out and said.err.endswith("for Orla.\n")
    assert main(["sign-in-link", "--set-password", "--person", "orla", *where]) == 0
    assert "/set-password/" in capsys.readouterr().out
    assert main(["sign-in-link", "--person", "nobody", *where]) == 1
    monkeypatch.setattr("sys.stdin", io.StringIO("short\n"))
    assert main([*first, "--data", str(data / "other")]) == 1


def test_the_settings_are_shown_without_secrets(
    data: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("UMBERKEEP_DATABASE_URL", "postgresql://u:hidden-word@h/d")
    assert main(["config", "--data", str(data)]) == 0
    said = capsys.readouterr().out
    assert "hidden-word" not in said and "(set, not shown)" in said and str(data) in said
    monkeypatch.setenv("UMBERKEEP_NO_SUCH", "x")
    assert main(["config"]) == 1


@pytest.mark.parametrize(
    ("host", "more", "answer"),
    [
        ("127.0.0.1", {}, ""), ("::1", {}, ""), ("localhost", {}, ""),
        ("0.0.0.0", {}, "refused"), ("192.0.2.4", {}, "refused"),
        ("0.0.0.0", {"plain_http": True}, "Warning"),
        ("0.0.0.0", {"base_url": "https://store.example"}, "refused"),
        ("0.0.0.0", {"base_url": "https://store.example", "trusted_proxy": "192.0.2.1"}, ""),
    ],
)
def test_plain_http_beyond_this_machine_must_be_asked_for(
    host: str, more: dict[str, object], answer: str
) -> None:
    settings = Settings(data=Path("x"), database_url="", host=host, **more)  # type: ignore[arg-type]
    if answer == "refused":
        with pytest.raises(CannotServe, match="UMBERKEEP_PLAIN_HTTP=yes"):
            judge_address(settings)
    else:
        assert judge_address(settings).startswith(answer) and bool(judge_address(settings)) == bool(answer)


def test_a_port_in_use_is_said_in_a_sentence(data: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(CannotServe, match=f"Port {port} on 127.0.0.1 is in use"):
            bind(Settings(data=data, database_url="", port=port))


def test_the_demo_never_goes_into_another_shop(data: Path) -> None:
    database, settings = database_in(data), read_settings({}, data=str(data), demo=True)
    with database.writing() as session:
        session.add(Person(name="Somebody", role=Role.STUDENT, created_at=NOW))
    with pytest.raises(CannotServe, match="not the demo"):
        prepare_demo(database, settings)
    with database.writing() as session:
        session.delete(session.exec(select(Person)).one())
        make_profile(session, NOW, "A real shop", "UTC")
    with pytest.raises(CannotServe, match="not the demo"):
        prepare_demo(database, settings)
    with database.writing() as session:
        session.get_one(ShopProfile, 1).is_demo = True
    prepare_demo(database, settings)


def test_a_new_shop_adds_up_and_lists_alerts(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["alerts", "--data", str(data)]) == 1
    assert "not set up" in capsys.readouterr().err
    assert main(["token", "new", "--role", "keeper", "--label", "x", "--data", str(data)]) == 0
    assert main(["check-ledger", "--data", str(data)]) == 0
    assert "holds together" in capsys.readouterr().out
    assert main(["alerts", "--data", str(data)]) == 0


def test_every_command_has_words() -> None:
    help_text = build_parser().format_help()
    names = ("serve", "migrate", "sign-in-link", "first-keeper", "token", "config", "check-ledger", "alerts")
    for name in names:
        assert name in help_text
    for wrong in (["serve", "--port", "0"], ["serve", "--port", "99999"], ["token", "new"], []):
        with pytest.raises(SystemExit):
            main(wrong)


def test_the_link_leads_to_where_the_shop_is_served_or_says_what_it_assumes(
    data: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    where = ["sign-in-link", "--data", str(data)]
    assert main(where) == 0
    said = capsys.readouterr()
    assert said.out.startswith("http://127.0.0.1:8000/") and "http://127.0.0.1:8000 is assumed" in said.err
    assert "--port" in said.err
    served = dataclasses.replace(read_settings({}, data=str(data)), port=8123)
    with told_where(served):
        assert main(where) == 0
        said = capsys.readouterr()
        assert said.out.startswith("http://127.0.0.1:8123/") and "assumed" not in said.err
        assert main([*where, "--port", "9000"]) == 0
        said = capsys.readouterr()
        assert said.out.startswith("http://127.0.0.1:9000/") and "assumed" not in said.err
        (data / SERVED_AT).write_text("http://elsewhere.example:80", encoding="utf-8")
        assert main(where) == 0
        assert "is assumed" in capsys.readouterr().err, "only an address of this machine is believed"
    assert not (data / SERVED_AT).exists()
    monkeypatch.setenv("UMBERKEEP_PORT", "8200")
    assert main(where) == 0
    assert "http://127.0.0.1:8200 is assumed" in capsys.readouterr().err
    monkeypatch.setenv("UMBERKEEP_BASE_URL", "https://store.example")
    monkeypatch.setattr("sys.stdin", io.StringIO("four walnut drawers\n"))
    first = ["first-keeper", "--name", "Orla", "--sign-in-name", "orla", "--shop", "Lane"]
    assert main([*first, "--time-zone", "UTC", "--data", str(data)]) == 0
    capsys.readouterr()
    assert main([*where, "--set-password"]) == 0
    assert capsys.readouterr().out.startswith("https://store.example/set-password/")
    assert main(where) == 0
    assert capsys.readouterr().out.startswith("http://127.0.0.1:8200/sign-in/once/")
