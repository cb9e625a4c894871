"""Answer 0 when the app in this container is ready to serve; the engine asks every 10 s."""

from __future__ import annotations

import os
import sys
from http.client import HTTPConnection


def main() -> int:
    """Ask the app itself, over loopback, whether it is ready."""
    port = int(os.environ.get("RINGWRIGHT_PORT", "8321"))
    try:
        connection = HTTPConnection("127.0.0.1", port, timeout=4)
        connection.request("GET", "/readyz")
        return 0 if connection.getresponse().status == 200 else 1
    except OSError:
        return 1


if __name__ == "__main__":
    sys.exit(main())
