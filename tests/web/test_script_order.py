"""The stream's first word must find somebody who listens."""

from __future__ import annotations

from starlette.testclient import TestClient

from tests.make.html import read


def test_what_follows_the_stream_is_loaded_before_what_opens_it(client: TestClient) -> None:
    scripts = [tag["src"] for tag in read(client.get("/week").text).tags("script")]

    names = [source.split("/")[-1].split("?")[0] for source in scripts]
    assert names.index("live.js") < names.index("htmx-4.0.1.min.js")
    assert names.index("live.js") < names.index("hx-sse-4.0.1.min.js")
