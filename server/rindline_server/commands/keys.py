"""``keys``: make keys, list them, revoke them. A key is shown once, when it is made."""

import argparse
import json
import sys
from datetime import UTC, datetime, timedelta
from typing import get_args

from rindline_schema.answers import Role
from rindline_server.app import build_service
from rindline_server.clock import now
from rindline_server.commands import ExitCode
from rindline_server.ledger.times import from_us
from rindline_server.service import ProblemError, Service
from rindline_server.settings import Settings

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Describe the command's arguments."""
    actions = parser.add_subparsers(dest="action", required=True, metavar="action")
    add = actions.add_parser("add", help="make a key and print it, this once")
    add.add_argument("name", help="who or what holds it, such as 'scale in the cutting room'")
    add.add_argument("--role", required=True, choices=get_args(Role))
    add.add_argument("--site", metavar="CODE", help="the site a station tells of")
    add.add_argument("--partner", metavar="CODE", help="the partner a customer's key belongs to")
    add.add_argument("--days", type=int, help="it expires after so many days (default: never)")
    listing = actions.add_parser("list", help="list the keys; none can be told from the list")
    listing.add_argument("--json", action="store_true", help="print a JSON array")
    revoke = actions.add_parser("revoke", help="revoke a key: from a second later on it is refused")
    revoke.add_argument("prefix", help="how it begins, as `keys list` shows it")


def run(arguments: argparse.Namespace, settings: Settings) -> int:
    """Do what was asked with keys."""
    service = build_service(settings)
    amiss = service.ready()
    if amiss is not None:
        print(f"rindline-server: {amiss}\nRun `rindline-server migrate`.", file=sys.stderr)
        return ExitCode.NOT_MIGRATED
    if arguments.action == "add":
        return _add(service, arguments)
    if arguments.action == "list":
        return _list(service, as_json=arguments.json)
    if service.revoke_key(arguments.prefix):
        print(f"revoked {arguments.prefix}")
        return ExitCode.DONE
    print(f"no key in force begins with {arguments.prefix!r}", file=sys.stderr)
    return ExitCode.FAILED


def _add(service: Service, arguments: argparse.Namespace) -> int:
    expires_at = now() + timedelta(days=arguments.days) if arguments.days is not None else None
    try:
        key = service.add_key(
            arguments.name,
            arguments.role,
            site=arguments.site,
            partner=arguments.partner,
            expires_at=expires_at,
        )
    except ProblemError as error:
        print(f"rindline-server: {error.problem.detail}", file=sys.stderr)
        return ExitCode.USAGE
    print(key)
    print("Keep it now: it can't be shown again.", file=sys.stderr)
    return ExitCode.DONE


def _moment(at_us: int | None) -> str | None:
    return from_us(at_us).astimezone(UTC).isoformat(timespec="seconds") if at_us else None


def _status(row_expires_us: int | None, revoked_us: int | None, moment: datetime) -> str:
    if revoked_us is not None:
        return "revoked"
    expires = from_us(row_expires_us) if row_expires_us is not None else None
    return "expired" if expires is not None and expires <= moment else "in force"


def _list(service: Service, *, as_json: bool) -> int:
    moment = now()
    rows = [
        {
            "key": row.prefix,
            "name": row.name,
            "role": row.role,
            "site": row.site,
            "partner": row.partner,
            "status": _status(row.expires_us, row.revoked_us, moment),
            "made_at": _moment(row.created_us),
            "expires_at": _moment(row.expires_us),
        }
        for row in service.list_keys()
    ]
    if as_json:
        print(json.dumps(rows, indent=2))
        return ExitCode.DONE
    for row in rows:
        belongs = row["site"] or row["partner"] or "-"
        expires = row["expires_at"] or "never"
        print(
            f"{row['key']}  {row['status']:<8}  {row['role']:<8}  {belongs:<8}  "
            f"until {expires}  {row['name']}"
        )
    return ExitCode.DONE
