"""The shop's deployment, read as text: no container engine runs here, so none is claimed to."""

from __future__ import annotations

import re
import subprocess
import sys
from dataclasses import fields
from datetime import datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
import yaml
from fastapi.routing import APIRoute

import ringwright
from deploy.nightly import next_night, night, spare
from deploy.weekly import next_report, reports, week_ended
from ringwright.kit.forms import MOST_FILM_BYTES
from ringwright.settings import Settings
from ringwright.web import health

PROJECT = Path(ringwright.__file__).parent.parent
COMPOSE: dict[str, Any] = yaml.safe_load((PROJECT / "docker-compose.yml").read_text())
SERVICES: dict[str, Any] = COMPOSE["services"]
CADDY = (PROJECT / "deploy/Caddyfile").read_text()
OUTSIDE_PORT = "443:8443"


def test_app_worker_database_and_proxy_are_served() -> None:
    assert set(SERVICES) == {"app", "worker", "reporter", "db", "proxy"}
    assert SERVICES["db"]["image"].startswith("postgres:")
    commands = [SERVICES[name]["command"] for name in ("app", "worker", "reporter")]
    assert commands == [["serve"], ["nightly"], ["weekly"]]
    entry = (PROJECT / "deploy/entry.sh").read_text()
    assert re.search(r"weekly\)\s+exec python /deploy/weekly\.py", entry)


def test_only_the_proxy_reaches_the_app_because_it_shares_its_network() -> None:
    assert SERVICES["proxy"]["network_mode"] == "service:app"
    assert "reverse_proxy 127.0.0.1:8321" in CADDY
    assert SERVICES["app"]["environment"]["RINGWRIGHT_PORT"] == "8321"


def test_the_one_door_to_the_outside_is_the_proxys_tls_port() -> None:
    doors = {name: service.get("ports", []) for name, service in SERVICES.items()}

    shut: dict[str, list[str]] = {"worker": [], "reporter": [], "db": [], "proxy": []}
    assert doors == {"app": [OUTSIDE_PORT], **shut}
    assert "https_port 8443" in CADDY
    assert re.search(r"^\s+tls internal$", CADDY, re.MULTILINE)
    assert "disable_redirects" in CADDY


def test_the_app_answers_to_the_name_in_the_certificate_and_trusts_this_proxy_alone() -> None:
    environment = SERVICES["app"]["environment"]

    assert (
        environment["RINGWRIGHT_HOSTS"] == SERVICES["proxy"]["environment"]["RINGWRIGHT_HOST"]
    )
    assert environment["RINGWRIGHT_PROXIES"] == "127.0.0.1"
    assert "{$RINGWRIGHT_HOST:localhost}:8443 {" in CADDY


def test_the_proxy_hangs_up_on_the_slow_and_lets_no_more_through_than_the_app_reads() -> None:
    most_mb = re.search(r"max_size (\d+)MB", CADDY)

    assert re.search(r"read_header \d+s\s+read_body \d+m", CADDY)
    assert most_mb
    # MB of a proxy are 10^6 bytes; what the app refuses it should say in its own words.
    assert MOST_FILM_BYTES < int(most_mb.group(1)) * 10**6 < 2 * MOST_FILM_BYTES


def test_browsers_are_told_to_keep_to_tls_for_a_year() -> None:
    age_s = re.search(r'Strict-Transport-Security "max-age=(\d+); includeSubDomains"', CADDY)

    # One year: OWASP ASVS 5.0.0, requirement 3.4.1.
    assert age_s
    assert int(age_s.group(1)) >= 365 * 24 * 3600


def test_live_events_pass_the_proxy_unbuffered() -> None:
    assert re.search(r"reverse_proxy 127\.0\.0\.1:8321 \{\s+flush_interval -1", CADDY)
    assert "encode" not in CADDY


def test_the_database_is_on_a_network_without_a_way_out() -> None:
    assert COMPOSE["networks"]["inside"] == {"internal": True}
    assert SERVICES["db"]["networks"] == ["inside"]
    assert SERVICES["worker"]["networks"] == ["inside"]
    assert SERVICES["reporter"]["networks"] == ["inside"]


def test_no_password_is_written_down_and_a_missing_one_stops_the_start() -> None:
    text = (PROJECT / "docker-compose.yml").read_text()
    example = (PROJECT / "deploy/env.example").read_text()

    assert text.count("${RINGWRIGHT_DATABASE_PASSWORD:?") == 2
    assert "RINGWRIGHT_DATABASE_PASSWORD=\n" in example


def test_sign_on_is_set_for_the_app_alone_and_its_secret_is_a_file_it_cannot_write() -> None:
    named = {name for name in SERVICES["app"]["environment"] if "SIGN_ON" in name}
    example = (PROJECT / "deploy/env.example").read_text()

    assert named == {
        f"RINGWRIGHT_{f.name.upper()}" for f in fields(Settings) if "sign_on" in f.name
    }
    assert {name for name in named if f"{name}=\n" not in example} == set()
    assert "./secrets:/secrets:ro" in SERVICES["app"]["volumes"]
    assert "/secrets/" in (PROJECT / ".gitignore").read_text().splitlines()


@pytest.mark.parametrize("name", ["app", "worker", "reporter", "proxy"])
def test_no_service_of_ours_can_write_to_its_image_or_gain_rights(name: str) -> None:
    service = SERVICES[name]

    assert service["read_only"] is True
    assert service["cap_drop"] == ["ALL"]
    assert service["security_opt"] == ["no-new-privileges:true"]


def test_record_and_backups_outlive_the_containers() -> None:
    kept = [mount for service in SERVICES.values() for mount in service.get("volumes", [])]
    named = {mount.split(":")[0] for mount in kept if not mount.startswith(".")}

    assert named == set(COMPOSE["volumes"])
    assert {"record:/var/lib/postgresql/data", "backups:/backups", "reports:/reports"} <= set(
        kept
    )
    assert "-m 0700 /backups /reports" in (PROJECT / "deploy/Dockerfile").read_text()


def test_each_service_waits_for_what_it_stands_on() -> None:
    waits = {name: list(SERVICES[name].get("depends_on", {})) for name in SERVICES}

    own = {name: ["app"] for name in ("proxy", "worker", "reporter")}
    assert waits == {"app": ["db"], **own, "db": []}
    assert {"healthcheck" in SERVICES[name] for name in ("app", "db")} == {True}


def test_the_health_question_is_one_that_the_app_answers() -> None:
    paths = {route.path for route in health.router.routes if isinstance(route, APIRoute)}

    assert SERVICES["app"]["healthcheck"]["test"][-1] == "/deploy/ready.py"
    assert "/readyz" in (PROJECT / "deploy/ready.py").read_text()
    assert "/readyz" in paths


def test_every_file_that_the_image_copies_exists_and_is_let_through() -> None:
    recipe = (PROJECT / "deploy/Dockerfile").read_text()
    ignore = (PROJECT / ".dockerignore").read_text().splitlines()
    copied = [
        name
        for line in re.findall(r"^COPY (.+) \S+$", recipe, re.MULTILINE)
        for name in line.split()
    ]

    assert len(copied) == 7
    assert [name for name in copied if not (PROJECT / name).exists()] == []
    assert [name for name in copied if f"!{name}" not in ignore] == []


def test_the_image_checks_digests_and_does_not_run_as_root() -> None:
    recipe = (PROJECT / "deploy/Dockerfile").read_text()

    assert "--require-hashes" in recipe
    assert re.search(r"^USER ringwright$", recipe, re.MULTILINE)


def test_the_night_comes_at_the_hour_of_the_shop() -> None:
    zone = ZoneInfo("Europe/London")
    before, after = (
        datetime(2026, 7, 1, 2, 0, tzinfo=zone),
        datetime(2026, 7, 1, 3, 0, tzinfo=zone),
    )

    assert next_night(before, "02:30").isoformat() == "2026-07-01T02:30:00+01:00"
    assert next_night(after, "02:30").isoformat() == "2026-07-02T02:30:00+01:00"


def one_night(folder: Path, *, fails: str = "") -> bool:
    """Run a night at which one of its commands may fail; a backup writes a file."""

    def run(*command: str) -> bool:
        if command[0] == "backup" and command[0] != fails:
            Path(command[1]).write_text("a backup")
        return command[0] != fails

    return night(folder, 2, datetime(2026, 7, 3, 2, 30, tzinfo=ZoneInfo("UTC")), run)


@pytest.mark.parametrize(
    ("fails", "kept"),
    [("", {"02", "03"}), ("audit", {"01", "02", "03"}), ("backup", {"01", "02"})],
)
def test_an_old_backup_goes_only_after_a_good_night(
    tmp_path: Path, fails: str, kept: set[str]
) -> None:
    for day in ("01", "02"):
        (tmp_path / f"ringwright-2026-07-{day}-0230.backup").write_text("older")

    good = one_night(tmp_path, fails=fails)

    assert good is (fails == "")
    assert {path.name[19:21] for path in tmp_path.iterdir()} == kept


def test_the_newest_backup_is_kept_whatever_is_asked(tmp_path: Path) -> None:
    (tmp_path / "ringwright-2026-07-01-0230.backup").write_text("the only one")

    assert spare(tmp_path, 0) == []


@pytest.mark.parametrize(
    ("now", "due", "week"),
    [
        # Week numbers and the week 53 of 2026: ISO 8601-1:2019, by the calendar of 2026.
        ("2026-11-27T12:00", "2026-11-30T06:10", "2026-W48"),
        ("2026-11-30T06:10", "2026-12-07T06:10", "2026-W49"),
        ("2027-01-04T06:09", "2027-01-04T06:10", "2026-W53"),
    ],
)
def test_reports_are_of_the_week_that_has_just_ended(now: str, due: str, week: str) -> None:
    found = next_report(datetime.fromisoformat(now), "Mon 06:10")

    assert found == datetime.fromisoformat(due)
    assert week_ended(found) == week


def test_a_report_that_fails_does_not_keep_back_the_others() -> None:
    asked: list[tuple[str, ...]] = []

    def run(*command: str) -> bool:
        asked.append(command)
        return command[2] != "CASE"

    good = reports(["CASE", "BLADE"], datetime.fromisoformat("2026-11-30T06:10+01:00"), run)

    assert not good
    assert [command[2] for command in asked] == ["CASE", "BLADE"]
    assert asked[1] == (
        "report", "--product", "BLADE", "--week", "2026-W48", "--to", "/reports",
    )  # fmt: skip


def test_the_reporters_command_is_one_that_the_program_takes() -> None:
    said = subprocess.run(
        [sys.executable, "-m", "ringwright", "report", "--help"],
        capture_output=True, text=True, cwd=PROJECT,
    )  # fmt: skip

    assert {"--product", "--week", "--to"} <= set(re.findall(r"--\w+", said.stdout))
