"""The commands: parse, call one service, print. Exit 0 done, 1 a check failed, 2 refused."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from typing import NoReturn

from ringwright.core.errors import RingwrightError


class OneLine(argparse.ArgumentParser):
    """A parser that says what is wrong in one line; `--help` has the rest."""

    def error(self, message: str) -> NoReturn:
        """Refuse, exit code 2."""
        self.exit(2, f"{self.prog}: {message}; {self.prog} --help tells more\n")


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and answer its exit code."""
    arguments = _parser().parse_args(argv)
    try:
        return int(arguments.run(arguments))
    except RingwrightError as refusal:
        print(f"ringwright: {refusal.message}", file=sys.stderr)
        return 2
    except BrokenPipeError:
        return 0


def _parser() -> argparse.ArgumentParser:
    from ringwright import commands as do
    from ringwright import exporting, reporting

    parser = OneLine(prog="ringwright", description=__doc__)
    verbs = parser.add_subparsers(dest="verb", required=True)

    def verb(
        name: str, run: object, does: str, *, site: bool = False
    ) -> argparse.ArgumentParser:
        added = verbs.add_parser(name, help=does, description=does)
        added.set_defaults(run=run)
        if site:
            added.add_argument("--site", metavar="CODE", help="needed where there are several")
        return added

    verb("migrate", do.migrate, "bring the store to the newest schema")
    practice = verb(
        "practice", do.practice, "open a practice site beside a real one", site=True
    )
    practice.add_argument("--code", metavar="CODE", help="else the real one's with -PRACTICE")
    practice.add_argument("--parts", type=int, default=0, metavar="N", help="of each product")
    _add_load(verbs.add_parser("load", help="take in a site, a route card or a history"))
    week = verb("week", do.week, "the numbers of one product and week", site=True)
    week.add_argument("--product", required=True, metavar="CODE")
    week.add_argument("--week", required=True, metavar="2026-W40")
    week.add_argument("--as-of", metavar="ISO-TIME")
    week.add_argument("--json", action="store_true")
    _add_forecast(verb("forecast", do.forecast, "what a week will have given", site=True))
    _add_report(verb("report", reporting.report, "the report of a week as files", site=True))
    _add_ring(verb("ring", do.ring, "build balanced sets from a file, or mend a ring"))
    tap = verb("tap", do.tap, "natural frequencies and damping of a recording of taps")
    tap.add_argument("file", metavar="FILE.wav or FILE.csv")
    tap.add_argument("--json", action="store_true")
    furnace = verb("furnace", do.furnace, "judge a furnace trace against a recipe")
    furnace.add_argument("file", metavar="FILE.csv")
    furnace.add_argument("--recipe", required=True, metavar="FILE.toml")
    furnace.add_argument("--json", action="store_true")
    replay = verb("replay", do.replay, "rebuild projections beside the live ones")
    way = replay.add_mutually_exclusive_group(required=True)
    way.add_argument("--compare", action="store_true", help="name the first difference")
    way.add_argument("--rebuild", action="store_true", help="write the live ones anew")
    verb("audit", do.audit, "verify the ledger's hashes")
    verb("backup", do.backup, "write the record to one file").add_argument("file")
    verb("restore", do.restore, "fill an empty store from a backup").add_argument("file")
    export = verb("export", exporting.export, "events as a history file", site=True)
    export.add_argument("file", metavar="FILE.csv")
    export.add_argument("--product", metavar="CODE")
    dataset = verb("dataset", exporting.dataset, "parts and visits as Parquet", site=True)
    dataset.add_argument("folder", metavar="FOLDER")
    dataset.add_argument("--as-of", metavar="ISO-TIME")
    token = verb("token", do.token, "print a bearer token for the API", site=True)
    token.add_argument("--role", required=True)
    token.add_argument("--actor", metavar="CODE")
    account = verb("account", do.account, "a one-time code to choose a password by", site=True)
    account.add_argument("--person", required=True, metavar="CODE")
    serve = verb("serve", do.serve, "serve the pages and the API on this machine")
    serve.add_argument("--port", type=int)
    start = verb("start", do.start, "migrate, load the demo into an empty store, serve")
    start.add_argument("--empty", action="store_true", help="serve without the demo")
    start.add_argument("--port", type=int)
    return parser


def _add_forecast(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--product", required=True, metavar="CODE")
    parser.add_argument("--week", required=True, metavar="2026-W40")
    parser.add_argument("--as-of", metavar="ISO-TIME")
    parser.add_argument("--seed", type=int, default=1, metavar="N")
    parser.add_argument("--json", action="store_true")


def _add_report(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--product", required=True, metavar="CODE")
    parser.add_argument("--week", required=True, metavar="2026-W40")
    parser.add_argument("--to", metavar="FOLDER", help="one that is there")
    parser.add_argument("--mail", action="store_true", help="send it as the settings say")
    parser.add_argument("--as-of", metavar="ISO-TIME")


def _add_ring(parser: argparse.ArgumentParser) -> None:
    add = parser.add_argument
    add("--pool", required=True, metavar="FILE.csv")
    add("--slots", required=True, type=int, metavar="N")
    add("--sets", default="1", metavar="K or max")
    for name, unit in (
        ("frequency-spread", "HZ"),
        ("moment-spread", "G_MM"),
        ("neighbour", "G_MM"),
        ("opposite", "G_MM"),
        ("moment-u", "G_MM"),
        ("seconds", "S"),
    ):
        add(f"--{name}", type=float, metavar=unit)
    add("--alternate", action="store_true", help="high and low frequencies alternate")
    add("--disc", metavar="G_MM@DEG", help="the disc's own unbalance")
    add("--lock", action="append", default=[], metavar="SLOT=SERIAL")
    add("--exclude", action="append", default=[], metavar="SERIAL")
    add("--ring", metavar="FILE", help="a ring that exists: slot,serial or an answer of ring")
    add("--lost", action="append", default=[], metavar="SERIAL")
    add("--moves", type=int, default=2, metavar="N", help="exchanges beside the replacement")
    add("--prove", action="store_true", help="prove the largest number of sets")
    add("--effort", type=int, default=3, metavar="1-5")
    add("--seed", type=int, default=1, metavar="N")
    add("--json", action="store_true")


def _add_load(parser: argparse.ArgumentParser) -> None:
    from ringwright import commands as do

    things = parser.add_subparsers(dest="thing", required=True)
    for name, run, does in (
        ("site", do.load_site, "add or extend a site: calendars, stations, people"),
        ("route", do.load_route, "add a product and a route-card revision"),
        ("history", do.load_history, "append events from another record"),
    ):
        added = things.add_parser(name, help=does, description=does)
        added.set_defaults(run=run)
        added.add_argument("file")
        if name != "site":
            added.add_argument("--site", metavar="CODE", help="needed where there are several")
        if name == "history":
            added.add_argument("--zone", metavar="NAME", help="zone of times without an offset")
