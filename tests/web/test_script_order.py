"""The stream's first word must find somebody who listens."""

from __future__ import annotations

from starlette.testclient import TestClient

from tests.make.html import read


def test_what_follows_the_stream_is_loaded_before_what_opens_it(client: TestClient) -> None:
    scripts = [tag["src"] for tag in read(client.get("/week").text).tags("script")]

    names = [source.split("/")[-1].split("?")[0] for source in scripts]
    assert names.index("live.js") < names.index("htmx-4.0.1.min.js")
    assert names.index("live.js") < names.index("hx-sse-4.0.1.min.js")


def test_htmx_begins_only_when_its_extensions_are_there(client: TestClient) -> None:
    scripts = read(client.get("/week").text).tags("script")
    deferred = {tag["src"].split("/")[-1].split("?")[0]: "defer" in tag for tag in scripts}

    assert not deferred["htmx-4.0.1.min.js"]
    assert deferred["hx-sse-4.0.1.min.js"]
    assert deferred["hx-ptag-4.0.1.min.js"]
