"""What each command does. Imports stand inside: `week` must answer in well under a second."""

from __future__ import annotations

import json
import sys
from argparse import Namespace
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote

from ringwright.core.errors import Missing, Refused
from ringwright.opening import moment_asked, opened, tell_practice
from ringwright.settings import Settings, read_settings

if TYPE_CHECKING:
    from sqlalchemy import Connection, Table

    from ringwright.ledger.service import Ledger
    from ringwright.ledger.verify import Fault


def _read_file(path: str) -> str:
    try:
        return Path(path).read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError:
        raise Refused(f"{path} is not UTF-8 text") from None
    except OSError as trouble:
        raise Missing(f"{path}: {trouble.strerror or trouble}") from None


def migrate(_arguments: Namespace) -> int:
    """Bring the store to the newest schema."""
    with opened():
        print("The store is at the newest schema.")
    return 0


def load_site(arguments: Namespace) -> int:
    """Add or extend a site."""
    from ringwright.assembly import SYSTEM
    from ringwright.sites.queries import read_calendar_codes
    from ringwright.sites.service import ExtendSite
    from ringwright.sites.toml import parse_site

    text, name = _read_file(arguments.file), Path(arguments.file).name
    with opened() as ledger:
        known: list[str] = []
        for code, _name in ledger.sites():
            with ledger.read(code) as read:
                known += read_calendar_codes(read.connection, read.site.id)
        file = parse_site(text, name, known)
        ledger.open_site(file.code)
        answer = ledger.execute(file.code, ExtendSite(file=file), SYSTEM)
    print(f"Site {answer['site']}: {answer['added']} facts added.")
    return 0


def practice(arguments: Namespace) -> int:
    """Open a practice site beside a real one, or bring it up to the real one's rules."""
    from ringwright.assembly import SYSTEM
    from ringwright.ground.practice import open_practice

    with opened() as ledger:
        asked = (arguments.site, arguments.code, arguments.parts)
        answer = open_practice(ledger, *asked, SYSTEM)
    print(
        f"Practice site {answer['site']} of {answer['of']}: {answer['added']} facts added, "
        f"{answer['parts']} practice parts made."
    )
    for card in answer["left"]:
        print(f"{card} has other content there and was left as it is.", file=sys.stderr)
    print(f"Its pages are those of the real site with ?site={quote(answer['site'])}")
    return 0


def load_route(arguments: Namespace) -> int:
    """Add a product and a route-card revision."""
    from ringwright.assembly import SYSTEM, ensure_site
    from ringwright.routecards.service import LoadRoute
    from ringwright.routecards.toml import parse_route

    card = parse_route(_read_file(arguments.file), Path(arguments.file).name)
    settings = read_settings()
    with opened(settings) as ledger:
        ensure_site(ledger, settings)
        answer = ledger.execute(arguments.site, LoadRoute(card=card), SYSTEM)
    what = "added" if answer["added"] else "was there already, unchanged"
    print(f"{answer['product']} revision {answer['revision']} {what}.")
    return 0


def load_history(arguments: Namespace) -> int:
    """Append events from another record."""
    from ringwright.assembly import SYSTEM, ensure_site
    from ringwright.bench.history import LoadHistory, read_csv
    from ringwright.core.calendar import known_zone

    if arguments.zone is not None:
        known_zone(arguments.zone)
    rows = read_csv(_read_file(arguments.file))
    settings = read_settings()
    command = LoadHistory(rows=rows, zone=arguments.zone, say=_tell_waiting)
    with opened(settings) as ledger:
        ensure_site(ledger, settings)
        answer = ledger.execute(arguments.site, command, SYSTEM)
    print(
        f"{answer['added']} events added, {answer['already_there']} were there already, "
        f"{answer['repeated_lines']} lines repeat another, {answer['skips']} steps skipped."
    )
    return 0


def _tell_waiting(text: str) -> None:
    print(text, file=sys.stderr, flush=True)


def week(arguments: Namespace) -> int:
    """The numbers of one product and week."""
    from ringwright.flow.service import read_week_numbers, week_json

    as_of_us = moment_asked(arguments)
    with opened() as ledger, ledger.read(arguments.site, as_of_us) as read:
        numbers = week_json(read_week_numbers(read, arguments.product, arguments.week))
        tell_practice(read.site)
    if arguments.json:
        print(json.dumps(numbers, indent=2))
    else:
        target = "" if numbers["target"] is None else f" out of {numbers['target']:g}"
        print(
            f"{numbers['product']} {numbers['week']}: {numbers['output']}{target} released, "
            f"{numbers['scrapped']} scrapped, {numbers['created']} created, "
            f"{sum(numbers['wip'].values())} in progress."
        )
    return 0


def forecast(arguments: Namespace) -> int:
    """The forecast of one product and week, with nothing learned after a moment."""
    from ringwright.flow.forecast import forecast_json, forecast_text, read_forecast

    as_of_us = moment_asked(arguments)
    if arguments.seed < 0:
        raise Refused(f"--seed {arguments.seed}: a seed is 0 or more")
    with opened() as ledger, ledger.read(arguments.site, as_of_us) as read:
        asked = (arguments.product, arguments.week, arguments.seed)
        found = read_forecast(read, *asked)
        tell_practice(read.site)
    print(
        json.dumps(forecast_json(found), indent=2) if arguments.json else forecast_text(found)
    )
    return 0


def ring(arguments: Namespace) -> int:
    """Build sets from a pool file, or mend a ring; needs no store."""
    from ringwright.ringing import ring as answer

    print(answer(arguments))
    return 0


def tap(arguments: Namespace) -> int:
    """Hear the modes in a recording of taps; needs no store."""
    from ringwright.tapping import tap as answer

    told, beside = answer(arguments)
    print(told)
    for line in beside:
        print(line, file=sys.stderr)
    return 0


def furnace(arguments: Namespace) -> int:
    """Judge a furnace trace against a recipe, met or not; needs no store."""
    from ringwright.furnacing import furnace as answer

    print(answer(arguments))
    return 0


def replay(arguments: Namespace) -> int:
    """Rebuild projections beside the live ones; 1 and the difference if there is one."""
    from ringwright.replaying import compare

    settings = read_settings()
    if arguments.rebuild:
        from ringwright.assembly import rebuild_all

        with opened(settings) as ledger:
            print(f"{rebuild_all(ledger, print):,} events folded into the projections anew.")
        return 0
    with opened(settings):
        folded, why = compare(settings.database_url)
    if why is not None:
        print(why)
        return 1
    print(f"{folded} events folded; the projections are what the ledger says.")
    return 0


def audit(_arguments: Namespace) -> int:
    """Verify the ledger's hashes; 1 and the first bad event if there is one."""
    from ringwright.attachments.verify import verify_attachments
    from ringwright.ledger.verify import audit as verify

    with opened() as ledger:
        with ledger.store.read() as connection:
            verified, fault = verify(connection)
            attached, lost = verify_attachments(connection)
        fault = fault or lost
        if fault is not None:
            print(f"site {fault.site}: {fault.why}")
            return 1
        _print_heads(ledger, verified)
        if attached:
            print(f"{attached} attachments verified.")
    return 0


def _print_heads(ledger: Ledger, verified: int) -> None:
    """How many events there are, and where each site's record ends; practice stands apart."""
    practised, lines = 0, []
    for code, _name in ledger.sites():
        with ledger.read(code) as read:
            seq, head, real = read.head_seq, read.head_hash, read.site.practice_of
        practised += seq if real else 0
        kind, mark = (f" (practice of {real})", "practice ") if real else ("", "")
        lines.append(f"site {code}{kind}: head {seq} {mark}{head}")
    more = f" {practised} of them are practice." if practised else ""
    print(f"{verified} events verified.{more}", *lines, sep="\n")


def backup(arguments: Namespace) -> int:
    """Write the record to one file, while others book."""
    from ringwright.ledger.backup import backup as write

    try:
        with opened() as ledger:
            events = write(ledger.store, Path(arguments.file), _beside())
    except OSError as trouble:
        raise Refused(f"{arguments.file}: {trouble.strerror or trouble}") from None
    print(f"{events} events written to {arguments.file}.")
    return 0


def _beside() -> list[Table]:
    """What a backup holds beside the record."""
    from ringwright.attachments.verify import kept_tables as attached
    from ringwright.people.tables import kept_tables

    return [*kept_tables(), *attached()]


def restore(arguments: Namespace) -> int:
    """Fill an empty store from a backup."""
    from ringwright.assembly import PROJECTORS
    from ringwright.attachments.verify import verify_attachments
    from ringwright.ledger.backup import restore as fill

    def check(connection: Connection) -> Fault | None:
        return verify_attachments(connection)[1]

    with opened() as ledger:
        events = fill(ledger, Path(arguments.file), PROJECTORS, _beside(), check)
    print(f"{events} events restored and verified.")
    return 0


def token(arguments: Namespace) -> int:
    """Print a bearer token for the API, on the last line."""
    from ringwright.assembly import ensure_site
    from ringwright.people.service import make_token

    settings = read_settings()
    with opened(settings) as ledger:
        ensure_site(ledger, settings)
        with ledger.read(arguments.site) as read:
            site_id = read.site.id
            tell_practice(read.site)
        now_us = ledger.clock.now_us()
        made = make_token(ledger.store, site_id, arguments.role, arguments.actor, now_us)
    print("Keep it secret; it is shown only now.", file=sys.stderr)
    print(made)
    return 0


def serve(arguments: Namespace) -> int:
    """Serve a store without touching the demo."""
    from ringwright.assembly import ensure_site

    settings = read_settings()
    with opened(settings) as ledger:
        ensure_site(ledger, settings)
    return _serve(settings, arguments.port or settings.port)


def start(arguments: Namespace) -> int:
    """Migrate, load the demo into an empty store or run it on to now, serve."""
    from ringwright.assembly import ensure_site

    settings = read_settings()
    print("Bringing the store to the newest schema …", flush=True)
    with opened(settings) as ledger:
        if not arguments.empty:
            from seed_demo.service import run_demo

            run_demo(ledger, lambda text: print(text, flush=True))
        ensure_site(ledger, settings)
    return _serve(settings, arguments.port or settings.port)


def ways_in(ledger: Ledger, address: str) -> list[str]:
    """What a person needs to be told to get in: the demo's accounts, or the first code."""
    from ringwright.people import demo
    from ringwright.people.accounts import first_code, has_way_in

    known = demo.demo_accounts(ledger)
    if known:
        codes = ", ".join(one.code for one in known)
        return [f"Demo accounts: {codes}; password {demo.PASSWORD}, PIN {demo.PIN}."]
    if has_way_in(ledger):
        return []
    return [
        f"No administrator can sign in yet. Open {address}/first within an hour and enter",
        f"the code {first_code(ledger)}",
    ]


def account(arguments: Namespace) -> int:
    """Print a one-time code by which a person chooses a password, on the last line."""
    from ringwright.assembly import SYSTEM
    from ringwright.people.accounts import Desk, code_for_password
    from ringwright.people.auditing import Asker

    with opened() as ledger:
        with ledger.read(arguments.site) as read:
            site_id, site = read.site.id, read.site.code
        asker = Asker(address="command line")
        desk = Desk(ledger=ledger, site_id=site_id, site=site, actor=SYSTEM.code, asker=asker)
        code = code_for_password(desk, arguments.person)
    print("Good once, for 24 hours: Sign in, I have a code.", file=sys.stderr)
    print(code)
    return 0


def _serve(settings: Settings, port: int) -> int:
    from sqlalchemy.exc import SQLAlchemyError

    from ringwright.web.factory import create_app
    from ringwright.web.logs import keep_logs
    from ringwright.web.serving import Serving

    keep_logs()
    app = create_app(settings)
    ledger: Ledger = app.state.ledger
    ledger.store.check_durable()
    address = f"http://127.0.0.1:{port}"
    try:
        for line in ways_in(ledger, address):
            print(line, flush=True)
    except SQLAlchemyError:
        # A store that cannot be written now still shows what it holds.
        print("The store takes no writing now; no code for a first sign-in.", flush=True)
    print(f"Ringwright is at {address}", flush=True)
    Serving(app, port).run()
    return 0
