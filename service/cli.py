"""The command `umberkeep`: serve, migrate, one-time addresses, tokens, settings, checks."""

from __future__ import annotations

import argparse
import dataclasses
import getpass
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from sqlalchemy.exc import OperationalError

from service import __version__
from service.actions import back_up as copies
from service.actions.api_tokens import api_tokens, make_api_token, revoke_token
from service.actions.check_ledger import check
from service.actions.list_alerts import lines, sweep
from service.actions.manage_channels import reach_findings
from service.actions.passwords import Hasher
from service.actions.set_up_shop import FirstKeeper, make_profile, set_up
from service.actions.sign_in_links import make_link, printed_link
from service.actions.witness import heads_in
from service.clock import machine_zone, new_secret, now_utc
from service.config import PREFIX, SETTINGS, SettingError, Settings, read_settings
from service.core.access import Role
from service.core.findings import Invalid, RequestError
from service.core.sign_in_rules import judge_password
from service.records.database_copies import CopyError
from service.records.engine import DatabaseBusy
from service.records.people import LinkPurpose
from service.records.revisions import SchemaTooNew
from service.records.shop import ShopProfile
from service.sending import one_round
from service.serving import CannotServe, local_address, opened, serve, served_at
from service.web.deps import shop_today, shop_zone


def build_parser() -> argparse.ArgumentParser:
    """Every command and option."""
    parser = argparse.ArgumentParser(prog="umberkeep", description="Store-room book and hazard desk.")
    parser.add_argument("--version", action="version", version=f"umberkeep {__version__}")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")

    def command(name: str, run: Callable[[argparse.Namespace], int], words: str) -> argparse.ArgumentParser:
        made = commands.add_parser(name, help=words, description=words)
        made.add_argument("--data", metavar="DIR", help="the shop's folder (default: UMBERKEEP_DATA)")
        made.set_defaults(run=run)
        return made

    serving = command("serve", _serve, "serve the shop")
    serving.add_argument("--demo", action="store_true", help="an invented shop, in a folder of its own")
    serving.add_argument("--host", help="the address to listen on")
    serving.add_argument("--port", type=_port, help="the port to listen on")
    command("migrate", _migrate, "bring the database to the newest schema")
    link = command("sign-in-link", _link, "print a one-time address for a keeper")
    link.add_argument("--person", default="", metavar="NAME", help="sign-in name; default: the first keeper")
    link.add_argument("--port", type=_port, help="the port the service listens on")
    link.add_argument("--set-password", action="store_true", help="an address to set a new password instead")
    first = command("first-keeper", _first_keeper, "set an empty shop up without a browser")
    for option in ("--name", "--sign-in-name", "--shop"):
        first.add_argument(option, required=True)
    first.add_argument("--time-zone", default=machine_zone(), help="such as Europe/Berlin (%(default)s)")
    _token_commands(commands, command)
    command("config", _config, "show the settings in force, secrets masked")
    command("check-ledger", _check_ledger, "add the ledger up anew and compare")
    making = command("backup", _backup, "make a dated copy of the shop's records while it is served")
    making.add_argument("--to", type=Path, metavar="DIR", help="takes the copy (default: DATA/backups)")
    taking = command("restore", _restore, "put a copy into an empty place; nothing is overwritten")
    taking.add_argument("copy", type=Path, help="the dated folder that `umberkeep backup` made")
    alerts = command("alerts", _alerts, "what runs out, what is due")
    alerts.add_argument("--days", type=int, default=30, help="how far to look ahead (%(default)s)")
    command("send-alerts", _send_alerts, "send the warnings that are due, once; for a timer")
    return parser


def _token_commands(commands: Any, command: Callable[..., argparse.ArgumentParser]) -> None:
    token = commands.add_parser("token", help="tokens for scripts", description="tokens for scripts")
    inner = token.add_subparsers(dest="token_command", required=True, metavar="new|list|revoke")
    for name, run, words in (
        ("new", _token_new, "make a token; it is printed alone on standard output"),
        ("list", _token_list, "every token, without its secret"),
        ("revoke", _token_revoke, "end a token"),
    ):
        made = inner.add_parser(name, help=words, description=words)
        made.add_argument("--data", metavar="DIR", help="the shop's folder (default: UMBERKEEP_DATA)")
        made.set_defaults(run=run)
        if name == "new":
            made.add_argument("--role", required=True, choices=[role.value for role in Role])
            made.add_argument("--label", required=True, help="what the script is called")
        if name == "revoke":
            made.add_argument("id", type=int)


def _port(text: str) -> int:
    if not text.isascii() or not text.isdigit() or not 1 <= int(text) <= 65535:
        raise argparse.ArgumentTypeError("a port is a whole number from 1 to 65535")
    return int(text)


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command; 0 done, 1 found something or could not, 2 not understood."""
    args = build_parser().parse_args(argv)
    try:
        return int(args.run(args))
    except (CannotServe, SettingError, SchemaTooNew, CopyError) as error:
        print(error, file=sys.stderr)
    except RequestError as error:
        print(error.sentence, file=sys.stderr)
    except DatabaseBusy:
        print("The database is busy. Try again in a few seconds.", file=sys.stderr)
    except OperationalError as error:
        print(f"The database cannot be used: {str(error.orig).strip()}", file=sys.stderr)
    except KeyboardInterrupt:
        return 130
    return 1


def _settings(args: argparse.Namespace) -> Settings:
    settings = read_settings(data=args.data, demo=getattr(args, "demo", False))
    changes = {name: getattr(args, name) for name in ("host", "port") if getattr(args, name, None)}
    return dataclasses.replace(settings, **changes)


def _serve(args: argparse.Namespace) -> int:
    serve(_settings(args), lambda words: print(words, flush=True))
    return 0


def _migrate(args: argparse.Namespace) -> int:
    settings = _settings(args)
    opened(settings).dispose()
    print("The database is at the newest schema.")
    return 0


def _link(args: argparse.Namespace) -> int:
    settings = _settings(args)
    database = opened(settings)
    token = new_secret()
    with database.writing() as session:
        link, person = printed_link(session, token, now_utc(), args.person)
        path = "sign-in/once"
        if args.set_password:
            if person is None:
                raise Invalid("Nobody has an account here yet. Use the address without --set-password.")
            token = new_secret()
            make_link(session, LinkPurpose.PASSWORD, token, now_utc(), person_id=link.person_id)
            path = "set-password"
    local, assumed = _where(args, settings)
    # A new password may be set from any browser; a sign-in works on this machine only.
    anywhere = settings.base_url if args.set_password else ""
    print(f"{anywhere or local}/{path}/{token}")
    who = f"for {person.name}" if person else "for the first keeper"
    lasts = "within a day" if args.set_password else "within ten minutes, in a browser on this machine"
    if assumed and not anywhere:
        print(assumed, file=sys.stderr)
    print(f"It works once, {lasts}, {who}.", file=sys.stderr)
    return 0


def _where(args: argparse.Namespace, settings: Settings) -> tuple[str, str]:
    """Where this machine's browser finds the service, and what to say if that is only assumed."""
    if args.port:
        return local_address(settings), ""
    if told := served_at(settings):
        return told, ""
    local = local_address(settings)
    words = (
        f"{settings.data} does not say where it is served, so {local} is assumed. If it is served elsewhere, "
        "run this again with --port and the port that it was started with."
    )
    return local, words


def _first_keeper(args: argparse.Namespace) -> int:
    if sys.stdin.isatty():
        typed = getpass.getpass("Password, 12 signs or more: ")
    else:  # from a pipe; never an argument, which other people of the machine could read
        typed = sys.stdin.readline().rstrip("\r\n")
    hashed = Hasher().make(judge_password(typed))
    database = opened(_settings(args))
    now = now_utc()
    with database.writing() as session:
        said = FirstKeeper(args.name, args.sign_in_name, hashed, args.shop, args.time_zone)
        set_up(session, now, shop_today(session, now), said)
    print(f"{args.name} keeps {args.shop} now.")
    return 0


def _token_new(args: argparse.Namespace) -> int:
    database = opened(_settings(args))
    token = new_secret()
    now = now_utc()
    with database.writing() as session:
        if session.get(ShopProfile, 1) is None:
            # A script may be the first to come; days need a zone, and this machine's is the likeliest.
            shop = make_profile(session, now, "The shop", machine_zone())
            words = f"The shop was not set up yet. Its time zone is {shop.time_zone} for now"
            print(f"{words}; a keeper can change it under The shop.", file=sys.stderr)
        make_api_token(session, None, now, token, Role(args.role), args.label)
    print(token)
    return 0


def _token_list(args: argparse.Namespace) -> int:
    with opened(_settings(args)).reading() as session:
        for row in api_tokens(session):
            state = f"ended {row.ended_at:%Y-%m-%d}" if row.ended_at else "in use"
            used = f"{row.last_used_at:%Y-%m-%d %H:%M} UTC" if row.last_used_at else "never used"
            print(f"{row.id}\t{row.role.value}\t{row.label}\t{state}\t{used}")
    return 0


def _token_revoke(args: argparse.Namespace) -> int:
    with opened(_settings(args)).writing() as session:
        row = revoke_token(session, None, now_utc(), args.id)
    print(f"The token {row.label} opens nothing any more.")
    return 0


def _config(args: argparse.Namespace) -> int:
    _settings(args)  # judged before it is shown
    for row in SETTINGS:
        key = PREFIX + row.name
        source = "environment" if key in os.environ else "file" if f"{key}_FILE" in os.environ else "default"
        value = os.environ.get(key, row.default)
        if row.name == "DATA" and args.data:
            value, source = args.data, "option"
        if row.secret and (value or source == "file"):
            value = "(set, not shown)"
        print(f"{key}={value}\t({source}) {row.help}")
    return 0


def _check_ledger(args: argparse.Namespace) -> int:
    settings = _settings(args)
    with opened(settings).reading() as session:
        report = check(session, heads_in(settings.data, shop_zone(session)).heads)
    print("\n".join(report.words))
    return report.exit_code


def _backup(args: argparse.Namespace) -> int:
    settings = _settings(args)
    try:
        print(copies.back_up(settings, args.to or settings.data / "backups", now_utc()))
    except OSError as error:
        raise CopyError(f"No copy was made: {error.strerror}: {error.filename or args.to}.") from error
    return 0


def _restore(args: argparse.Namespace) -> int:
    settings = _settings(args)
    try:
        copies.restore(settings, args.copy)
    except OSError as error:
        raise CopyError(f"Not restored: {error.strerror}: {error.filename or settings.data}.") from error
    print(f"Restored into {settings.data}. Now run `umberkeep check-ledger`.")
    return 0


def _alerts(args: argparse.Namespace) -> int:
    now, settings = now_utc(), _settings(args)
    with opened(settings).writing() as session:
        sweep(session, now)
        found = lines(session, now, args.days, reach_findings(session, now, settings))
    print("\n".join(found))
    return 0


def _send_alerts(args: argparse.Namespace) -> int:
    settings = _settings(args)
    done = one_round(opened(settings), settings)
    print(f"{done.queued} written, {done.sent} sent, {done.failed} failed.")
    return 1 if done.failed else 0
