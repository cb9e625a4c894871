"""Run every check, one after another, each with its time; the tests come last.

A stage that fails does not stop the ones behind it: one run tells everything that is wrong.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import time

from scripts import machine

HERE = ("ringwright", "seed_demo", "tests", "scripts", "deploy")
PYTHON = (sys.executable, "-P", "-m")
LINT_IMPORTS = (
    "import sys; from importlinter.cli import lint_imports_command as c; sys.exit(c())"
)

STAGES: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("format", (*PYTHON, "ruff", "format", "--check", *HERE)),
    ("lint", (*PYTHON, "ruff", "check", *HERE)),
    ("types", (*PYTHON, "mypy", *HERE)),
    ("imports", (sys.executable, "-c", LINT_IMPORTS)),
)
LEFT_OUT = {
    "quick": "not (slow or browser or reliability or long)",
    "full": "not long",
    "long": "",
}


def run(name: str, command: tuple[str, ...]) -> bool:
    """Run one stage, and print what it said and how long it took."""
    print(f"--- {name}", flush=True)
    begun = time.monotonic()
    passed = subprocess.run(command, stdin=subprocess.DEVNULL).returncode == 0
    verdict = "passed" if passed else "FAILED"
    print(f"--- {name} {verdict} in {time.monotonic() - begun:.1f} s", flush=True)
    return passed


def run_tests(extent: str) -> bool:
    """Run the tests; their own summary is the last line printed."""
    command = [*PYTHON, "pytest", "-n", "2", "--dist", "loadgroup", "-m", LEFT_OUT[extent]]
    print(f"--- tests ({extent})", flush=True)
    return subprocess.run(command, stdin=subprocess.DEVNULL).returncode == 0


def provide_programs(extent: str) -> None:
    """See that the PostgreSQL server, and Chromium where it is used, are on the machine."""
    needed = {"postgresql": machine.postgres()}
    if extent != "quick":
        needed["chromium"] = machine.chromium()
    machine.provide(machine.missing(needed))
    for package in needed:
        found = machine.postgres() if package == "postgresql" else machine.chromium()
        if found is None:
            raise SystemExit(
                f"{package} is missing on this machine and could not be installed."
            )


def main() -> int:
    """Check what was asked for and answer 0 only when every stage passed."""
    parser = argparse.ArgumentParser(prog="./check", description=__doc__)
    extent = parser.add_mutually_exclusive_group()
    extent.add_argument("--quick", action="store_const", const="quick", dest="extent")
    extent.add_argument("--long", action="store_const", const="long", dest="extent")
    asked = parser.parse_args().extent or "full"
    provide_programs(asked)
    failed = [name for name, command in STAGES if not run(name, command)]
    if failed:
        print(f"--- FAILED before the tests: {', '.join(failed)}", flush=True)
    passed = run_tests(asked)
    return 0 if passed and not failed else 1


if __name__ == "__main__":
    sys.exit(main())
