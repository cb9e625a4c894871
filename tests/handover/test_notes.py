"""Notes in the record: kept once, taken over once, as of a moment, and rebuilt the same."""

from __future__ import annotations

import pytest

from ringwright.assembly import rebuild_all
from ringwright.core.errors import Clash, Forbidden, Missing, Refused
from ringwright.core.instants import iso_text
from ringwright.handover.queries import notes_handed, notes_of, search_notes
from ringwright.handover.service import LeaveNote, TakeOver
from ringwright.handover.sheet import read_handover
from ringwright.ledger.verify import audit
from ringwright.replaying import compare
from tests.make.floor import (
    CODE,
    DELEGATE,
    INSPECTOR,
    MAKER,
    MAKER_2,
    MINUTE_US,
    QUALITY,
    SUPERVISOR,
    Floor,
)

HOUR = 60 * MINUTE_US


def now(floor: Floor) -> str:
    return iso_text(floor.clock.at_us, "Europe/Oslo")


def leave(floor: Floor, text: str, **given: str) -> int:
    """The maker's note on the shift under way; its entry."""
    command = LeaveNote(shift=now(floor), text=text, key=floor.key(), **given)
    return int(floor.do(command, MAKER)["entry"])


def test_a_note_is_kept_shown_to_the_next_shift_and_taken_over_once(
    floor: Floor, store_url: str
) -> None:
    floor.bring_to("O-1", 20)
    note = leave(floor, "weld gas is low", serial="O-1")
    for_inspector = leave(floor, "check the chord gauge", for_role="inspector")
    before = floor.clock.at_us + 1
    floor.clock.at_us += 8 * HOUR

    with floor.ledger.read(CODE) as read:
        sheet = read_handover(read, None)
    assert [one.number for one in sheet.open_notes] == [note, for_inspector]
    assert (sheet.handed[0].serial, sheet.notes) == ("O-1", ())

    taking = TakeOver(notes=(note,), key="t-1")
    first = floor.do(taking, MAKER_2)
    assert floor.do(taking, MAKER_2) == first
    with pytest.raises(Clash):
        floor.do(TakeOver(notes=(note,), key="t-2"), SUPERVISOR)
    with pytest.raises(Forbidden, match="inspector"):
        floor.do(TakeOver(notes=(for_inspector,), key="t-3"), MAKER_2)
    floor.do(TakeOver(notes=(for_inspector,), key="t-4"), INSPECTOR)

    with floor.ledger.read(CODE) as read:
        assert [one.taken_by for one in read_handover(read, None).handed] == [
            "maker-2",
            "insp-1",
        ]
    with floor.ledger.read(CODE, before) as read:
        assert [one.taken_us for one in search_notes(read, "")] == [None, None]
    floor.clock.at_us += 8 * HOUR
    with floor.ledger.read(CODE) as read:
        later = read_handover(read, None)
        assert (later.handed, len(search_notes(read, "WELD GAS"))) == ((), 1)
        assert search_notes(read, "100%_") == []
        shift = later.before
        assert notes_of(read, shift.start_us, shift.end_us) == []
        earliest = notes_handed(read, shift.start_us)
    assert [one.number for one in earliest] == [note, for_inspector]
    _rebuilt_the_same(floor, store_url)


def _rebuilt_the_same(floor: Floor, url: str) -> None:
    assert compare(url)[1] is None
    rebuild_all(floor.ledger, lambda _text: None)
    assert compare(url)[1] is None
    with floor.ledger.store.read() as connection:
        assert audit(connection)[1] is None


def test_a_note_sent_twice_is_one_and_a_wrong_one_is_none(floor: Floor) -> None:
    command = LeaveNote(shift=now(floor), text="once", key="n-1")
    assert floor.do(command, MAKER) == floor.do(command, MAKER)
    with pytest.raises(Clash):
        floor.do(LeaveNote(shift=now(floor), text="other", key="n-1"), MAKER)
    held = floor.events()

    for given, error in (
        ({"text": " "}, Refused),
        ({"serial": "O-99"}, Missing),
        ({"serial": "a\nb"}, Refused),
        ({"shift": "yesterday"}, Refused),
        ({"shift": "2026-09-29T12:00"}, Refused),
        ({"shift": "2026-09-20T12:00"}, Refused),
        ({"for_role": "king"}, Refused),
    ):
        wrong = {"shift": now(floor), "text": "x", "key": floor.key(), **given}
        with pytest.raises(error):
            floor.do(LeaveNote(**wrong), MAKER)
    with pytest.raises(Forbidden):
        floor.do(LeaveNote(shift=now(floor), text="x", key=floor.key()), DELEGATE)
    for notes, error in (((), Refused), ((99_999,), Missing)):
        with pytest.raises(error):
            floor.do(TakeOver(notes=notes, key=floor.key()), QUALITY)
    assert floor.events() == held
