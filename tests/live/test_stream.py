"""The stream that tells open pages of new entries."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator

from ringwright.live.stream import MOST_OF_ONE, Watch


async def following(stream: AsyncIterator[str]) -> str:
    """The next message; within two seconds, as a page may expect."""
    return await asyncio.wait_for(anext(stream), 2.0)


def test_a_page_hears_the_present_entry_at_once_and_each_new_one() -> None:
    heads = {"NORD": 4}

    async def listen() -> list[str]:
        watch = Watch(lambda: dict(heads), look_every_s=0.01)
        async with watch.running():
            await asyncio.sleep(0.05)
            stream = watch.messages("NORD")
            heard = [await following(stream)]
            heads["NORD"] = 5
            heard.append(await following(stream))
            return heard

    first, second = asyncio.run(listen())

    assert first == "event: ledger\nid: 4\ndata: NORD\n\n"
    assert "id: 5" in second


def test_a_page_of_one_site_sleeps_through_the_entries_of_another() -> None:
    heads = {"NORD": 1, "SYD": 1}

    async def listen() -> str:
        watch = Watch(lambda: dict(heads), look_every_s=0.01, comment_every_s=0.2)
        async with watch.running():
            await asyncio.sleep(0.05)
            stream = watch.messages("NORD")
            await following(stream)
            heads["SYD"] = 2
            return await following(stream)

    assert asyncio.run(listen()) == ": still here\n\n"


def test_the_watch_goes_on_when_the_record_was_away() -> None:
    answers: list[Exception | dict[str, int]] = [RuntimeError("away"), {"NORD": 9}]

    def read_heads() -> dict[str, int]:
        answer = answers.pop(0) if answers else {"NORD": 9}
        if isinstance(answer, Exception):
            raise answer
        return answer

    async def listen() -> dict[str, int]:
        watch = Watch(read_heads, look_every_s=0.01)
        async with watch.running():
            await asyncio.sleep(0.1)
            return watch.heads

    assert asyncio.run(listen()) == {"NORD": 9}


def test_streams_are_counted_and_end_with_the_server() -> None:
    async def listen() -> tuple[int, bool, int]:
        watch = Watch(lambda: {"NORD": 1}, look_every_s=0.01, most_streams=1)
        async with watch.running():
            await asyncio.sleep(0.05)
            stream = watch.messages(None)
            await following(stream)
            open_, full = watch.streams, watch.full()
            rest = asyncio.create_task(_drain(stream))
        await asyncio.wait_for(rest, 2.0)
        return open_, full, watch.streams

    assert asyncio.run(listen()) == (1, True, 0)


def test_one_address_holds_so_many_streams_and_no_more() -> None:
    async def listen() -> tuple[bool, bool, bool, int]:
        watch = Watch(lambda: {"NORD": 1}, look_every_s=0.01)
        async with watch.running():
            await asyncio.sleep(0.05)
            streams = [watch.messages(None, "10.0.0.7") for _ in range(MOST_OF_ONE)]
            for stream in streams:
                await following(stream)
            full, other = watch.full("10.0.0.7"), watch.full("10.0.0.8")
            rest = [asyncio.create_task(_drain(stream)) for stream in streams]
        await asyncio.wait_for(asyncio.gather(*rest), 2.0)
        return full, other, watch.full("10.0.0.7"), len(watch.holders)

    assert asyncio.run(listen()) == (True, False, False, 0)


async def _drain(stream: AsyncIterator[str]) -> None:
    async for _ in stream:
        pass
