"""Serving: what is refused before it starts, the sockets, the printed address, the server itself."""

from __future__ import annotations

import logging
import re
import socket
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from importlib import import_module
from typing import Final
from urllib.parse import urlsplit

import uvicorn
from sqlmodel import Session, col, select

from service.actions.settle_after_upgrade import rules_settled, settle_after_upgrade
from service.actions.sign_in_links import keepers, printed_link
from service.app import create_app
from service.clock import new_secret, now_utc
from service.config import Settings
from service.core.sign_in_rules import is_loopback
from service.records.engine import Database, open_database
from service.records.people import Person
from service.records.revisions import newest_revision, revision_of
from service.records.shop import ShopProfile
from service.sending import Loop
from service.web.connection import BoundedConnection

CONNECTIONS = 500
GRACE_S = 10

UNSETTLED = ".dates-to-settle"
"""A file beside the records while an upgrade has not settled all dates yet."""


SERVED_AT: Final = ".served-at"
"""A file beside the records that says where this machine finds the service, while it is served."""


class CannotServe(Exception):  # noqa: N818
    """Why the service does not start, in a sentence that says how to mend it."""


def opened(settings: Settings, *, pooled: bool = False) -> Database:
    """The database of these settings at the newest schema; the files of a shop are the owner's alone."""
    if settings.sqlite:
        settings.data.mkdir(parents=True, exist_ok=True, mode=0o700)
    database = open_database(settings.database_url, settings.threads, pooled=pooled)
    with database.engine.connect() as connection:
        current = revision_of(connection)
    unsettled = settings.data / UNSETTLED
    if current != newest_revision():
        # Stays until the dates are settled too: a start that was killed between the two does it again.
        settings.data.mkdir(parents=True, exist_ok=True, mode=0o700)
        unsettled.touch()
        # Loaded only when there is something to migrate: the tool takes a good part of a start.
        from service.records.migrate import migrate

        migrate(database)
    with database.reading() as session:
        settled = rules_settled(session)
    if unsettled.exists() or not settled:
        settle_after_upgrade(database, now_utc())
        unsettled.unlink(missing_ok=True)
    return database


def judge_address(settings: Settings) -> str:
    """A warning to print, or an empty text.

    Raises:
        CannotServe: it would hand passwords over the network in clear without anybody having said so.
    """
    if settings.host == "localhost" or is_loopback(settings.host):
        return ""
    if settings.base_url.startswith("https://") and settings.trusted_proxy:
        return ""
    if not settings.plain_http:
        raise CannotServe(
            f"Listening on {settings.host} lets the network in over plain http: passwords and PINs could be "
            "read on the way. Put a TLS proxy before the service (deploy/reverse-proxy) and set "
            "UMBERKEEP_BASE_URL and UMBERKEEP_TRUSTED_PROXY, or set UMBERKEEP_PLAIN_HTTP=yes for a trial."
        )
    return (
        "Warning: plain http beyond this machine. Anybody in this network can read what is sent, passwords "
        "and PINs too. Use it for a trial only."
    )


def judge_demo_address(settings: Settings) -> None:
    """The demo's password stands on its sign-in page: it is served to this machine and nobody else.

    Raises:
        CannotServe: it would be reached from elsewhere.
    """
    if settings.host == "localhost" or (is_loopback(settings.host) and not settings.trusted_proxy):
        return
    raise CannotServe(
        "The demo shows its password to everybody, so it is served to this machine only. "
        "Leave out --host and UMBERKEEP_TRUSTED_PROXY, or start a shop of your own without --demo."
    )


def bind(settings: Settings) -> list[socket.socket]:
    """The listening sockets: the wanted address, and loopback beside it, where one-time addresses work.

    Raises:
        CannotServe: the port is in use, needs more rights, or the address is not this machine's.
    """
    found = [_listen(settings.host, settings.port)]
    if settings.host not in ("0.0.0.0", "::", "localhost") and not is_loopback(settings.host):
        with suppress(CannotServe):
            found.append(_listen("127.0.0.1", settings.port))
    return found


def _listen(host: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    sock = socket.socket(family, socket.SOCK_STREAM)
    sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        sock.bind((host, port))
        sock.listen(256)
    except PermissionError as error:
        raise CannotServe(f"Port {port} needs more rights. Choose one from 1024 up with --port.") from error
    except OSError as error:
        sock.close()
        if error.errno in (98, 48, 10048):  # in use: Linux, BSD and macOS, Windows
            raise CannotServe(
                f"Port {port} on {host} is in use, perhaps by this service already. "
                "Choose another with --port."
            ) from error
        raise CannotServe(f"Cannot listen on {host} port {port}: {error.strerror or error}.") from error
    return sock


def local_address(settings: Settings) -> str:
    """Where this machine's own browser finds the service."""
    host = "[::1]" if settings.host in ("::1", "::") else "127.0.0.1"
    return f"http://{host}:{settings.port}"


@contextmanager
def told_where(settings: Settings) -> Iterator[None]:
    """Leaves word in the shop's folder of where it is served, for `umberkeep sign-in-link`."""
    word = settings.data / SERVED_AT
    with suppress(OSError):  # without it the command assumes an address, and says so
        word.write_text(local_address(settings) + "\n", encoding="utf-8")
    try:
        yield
    finally:
        with suppress(OSError):
            word.unlink(missing_ok=True)


def served_at(settings: Settings) -> str:
    """Where the shop in this folder says that it is served; empty where nothing says so."""
    try:
        told = (settings.data / SERVED_AT).read_text(encoding="utf-8")[:100].strip()
    except (OSError, UnicodeError):
        return ""
    return told if re.fullmatch(r"http://(127\.0\.0\.1|\[::1\]):[0-9]{1,5}", told) else ""


def prepare_demo(database: Database, settings: Settings) -> None:
    """Load the invented shop into an empty database; leave a loaded one as it is.

    Raises:
        CannotServe: the database holds something else, or this installation has no demo.
    """
    with database.reading() as session:
        shop = session.get(ShopProfile, 1)
        anybody = session.exec(select(col(Person.id)).limit(1)).first()
    if shop is not None and shop.is_demo:
        return
    if shop is not None or anybody is not None:
        raise CannotServe(
            f"{settings.data} holds a shop that is not the demo. Start it without --demo, or give the demo a "
            "folder of its own with --data."
        )
    try:
        loader = import_module("service.demo_loader")
    except ModuleNotFoundError as error:
        if error.name != "service.demo_loader":
            raise
        raise CannotServe("This installation has no demo shop. Start without --demo.") from error
    loader.load(database, settings, now_utc())


def address_to_print(session: Session, settings: Settings, *, always: bool) -> str:
    """The one-time address for the first keeper or, if ``always``, for the keeper there is; else empty."""
    if keepers(session) and not always:
        return ""
    token = new_secret()
    _, person = printed_link(session, token, now_utc())
    purpose = f"Sign in as {person.name}" if person else "Set up the first keeper"
    where = f"{local_address(settings)}/sign-in/once/{token}"
    return f"{purpose}, on this machine, once, within ten minutes:\n  {where}"


def serve(settings: Settings, say: Callable[[str], None]) -> None:
    """Migrate, ``say`` where it serves, serve until told to stop.

    Raises:
        CannotServe, SettingError, SchemaTooNew.
    """
    warning = judge_address(settings)
    sockets = bind(settings)
    try:
        database = opened(settings, pooled=True)
        if settings.demo:
            prepare_demo(database, settings)
        with database.reading() as session:
            shop = session.get(ShopProfile, 1)
        demo = shop is not None and shop.is_demo
        if demo:
            judge_demo_address(settings)
        app = create_app(settings, database)
        with database.writing() as session:
            address = address_to_print(session, settings, always=demo)
        say(_greeting(settings, warning, address, demo=demo))
        logging.basicConfig(level=logging.INFO, format="%(message)s")
        logging.getLogger("alembic").setLevel(logging.WARNING)
        config = uvicorn.Config(
            app, http=BoundedConnection, ws="none", access_log=False, log_config=None, log_level="warning",
            server_header=False, proxy_headers=bool(settings.trusted_proxy),
            forwarded_allow_ips=settings.trusted_proxy or None,
            timeout_graceful_shutdown=GRACE_S, limit_concurrency=CONNECTIONS,
        )
        with told_where(settings), sending(settings, database) as wake:
            app.state.wake_sender = wake
            uvicorn.Server(config).run(sockets=sockets)
    finally:
        for sock in sockets:
            sock.close()


@contextmanager
def sending(settings: Settings, database: Database) -> Iterator[Callable[[], None] | None]:
    """The loop that sends warnings, while the service runs; hands out what wakes it; None if turned off."""
    if not settings.send_alerts:
        yield None
        return
    loop = Loop(database, settings)
    loop.start()
    try:
        yield loop.wake
    finally:
        loop.stop()


def _greeting(settings: Settings, warning: str, address: str, *, demo: bool) -> str:
    lines = [f"Umberkeep serves {'the demo shop' if demo else 'the shop'} in {settings.data}"]
    lines.append(f"  {settings.base_url or local_address(settings)}")
    if settings.base_url and urlsplit(settings.base_url).scheme == "http":
        lines.append("  (the base address is plain http: what is sent can be read on the way)")
    if warning:
        lines.append(warning)
    lines.append(address or "A keeper who is locked out runs: umberkeep sign-in-link")
    if demo:
        lines.append(f"The demo stays as you leave it. To begin it anew: stop it and delete {settings.data}")
    return "\n".join(lines)


