"""Make .venv hold exactly what the lock files say. Needs Python 3.11 alone, and no root.

Everything is written inside the project folder, the download cache included. A stamp with the
lock's digest makes the second run a matter of milliseconds.
"""

from __future__ import annotations

import fcntl
import hashlib
import os
import re
import shutil
import subprocess
import sys
import threading
import time
import venv
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
CACHE = ROOT / ".cache"
PYTHON = VENV / "bin" / "python"
STAMPS = {"requirements.txt": "lock-serve", "requirements-dev.txt": "lock-dev"}

# No path is written down in it, so the project folder may be moved.
LAUNCHER = """#!/bin/sh
here=$(dirname -- "$(readlink -f -- "$0")")
exec "$here/python" -P -m ringwright "$@"
"""


def say(text: str) -> None:
    """Tell the person who waits what is going on."""
    print(text, flush=True)


@contextmanager
def one_at_a_time() -> Iterator[None]:
    """Let a second ./start or ./check wait until the first has finished installing."""
    CACHE.mkdir(exist_ok=True)
    with (CACHE / "environment.lock").open("w") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            say("Waiting for another ./start or ./check that is installing …")
            fcntl.flock(lock, fcntl.LOCK_EX)
        yield


@contextmanager
def heartbeat(doing: str) -> Iterator[None]:
    """Print a sign of life every ten seconds while something long is running."""
    done = threading.Event()
    begun = time.monotonic()

    def beat() -> None:
        while not done.wait(10):
            say(f"  still {doing}, {time.monotonic() - begun:.0f} s")

    thread = threading.Thread(target=beat, daemon=True)
    thread.start()
    try:
        yield
    finally:
        done.set()
        thread.join()


def digest(lock: str) -> str:
    """Name the content of a lock file; the development lock stands on the other one."""
    text = (ROOT / "requirements.txt").read_bytes() + (ROOT / lock).read_bytes()
    return hashlib.sha256(text + sys.version.encode()).hexdigest()


def is_fresh(lock: str) -> bool:
    """Say whether .venv already holds what this lock file asks for."""
    stamp = VENV / STAMPS[lock]
    return PYTHON.exists() and stamp.exists() and stamp.read_text() == digest(lock)


def make_venv() -> None:
    """Create an empty .venv, in place of one that is broken or of another Python."""
    say("Making .venv …")
    try:
        venv.create(VENV, clear=True, with_pip=True, symlinks=True)
    except subprocess.CalledProcessError:
        shutil.rmtree(VENV, ignore_errors=True)
        sys.exit("This Python cannot make a virtual environment: apt install python3.11-venv.")


def venv_works() -> bool:
    """Try the interpreter and its pip: a half-made .venv is made anew."""
    if not PYTHON.exists():
        return False
    test = "import sys, pip; sys.exit(sys.version_info[:2] != (3, 11))"
    return subprocess.run([PYTHON, "-c", test], capture_output=True).returncode == 0


def pip_environment() -> dict[str, str]:
    """Keep downloads and scratch files inside the project folder."""
    scratch = CACHE / "tmp"
    scratch.mkdir(parents=True, exist_ok=True)
    ours = {"PIP_CACHE_DIR": str(CACHE / "pip"), "TMPDIR": str(scratch), "PIP_NO_INPUT": "1"}
    return {**{"PIP_DISABLE_PIP_VERSION_CHECK": "1"}, **os.environ, **ours}


def install(lock: str) -> None:
    """Install one lock file, every package checked against its digest."""
    count = len(re.findall(r"^[a-z0-9].*==", (ROOT / lock).read_text(), re.MULTILINE))
    say(f"Installing up to {count} packages of {lock} into .venv (only the first time) …")
    command = [str(PYTHON), "-m", "pip", "install", "--require-hashes", "--no-deps"]
    command += ["--only-binary", ":all:", "--progress-bar", "off", "-r", str(ROOT / lock)]
    with heartbeat("installing"):
        code = follow_pip(command)
    if code:
        sys.exit(f"Installing {lock} failed (pip ended with {code}); run it again when mended.")


def follow_pip(command: list[str]) -> int:
    """Run pip, showing every tenth package, and all that it said if it fails."""
    said: list[str] = []
    seen = 0
    with subprocess.Popen(
        command,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env=pip_environment(),
    ) as pip:
        assert pip.stdout is not None
        for line in pip.stdout:
            said.append(line)
            if line.startswith("Collecting "):
                seen += 1
                if seen % 10 == 0:
                    say(f"  fetched {seen}")
            elif line.startswith("Installing collected"):
                say("  unpacking")
    if pip.returncode:
        sys.stderr.write("".join(said[-30:]))
    return pip.returncode


def make_command() -> None:
    """Put the `ringwright` command and the path to its source into .venv."""
    packages = next((VENV / "lib").glob("python3.11/site-packages"))
    up = os.path.relpath(ROOT, packages)
    (packages / "ringwright.pth").write_text(up + "\n")
    launcher = VENV / "bin" / "ringwright"
    launcher.write_text(LAUNCHER)
    launcher.chmod(0o755)
    # Commands start faster, also where Python is told not to keep bytecode by itself.
    subprocess.run(
        [PYTHON, "-m", "compileall", "-q", "ringwright", "seed_demo"], cwd=ROOT, check=False
    )


def ensure(lock: str) -> None:
    """Bring .venv to what the lock file says, if it is not there already."""
    if is_fresh(lock):
        return
    with one_at_a_time():
        if is_fresh(lock):
            return
        begun = time.monotonic()
        if not venv_works():
            make_venv()
        install(lock)
        make_command()
        for done in ("requirements.txt", lock):
            (VENV / STAMPS[done]).write_text(digest(done))
        say(f"Installed in {time.monotonic() - begun:.0f} s.")


if __name__ == "__main__":
    ensure("requirements-dev.txt" if "--dev" in sys.argv[1:] else "requirements.txt")
