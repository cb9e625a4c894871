"""Raising, seeking, moving, shutting and opening: what is done, what is refused."""

from __future__ import annotations

import pytest

from ringwright.core.errors import Clash, Forbidden, Missing, Refused
from ringwright.floor.service import MoveMany, OpenUp, Prioritise, ShutIt
from tests.floor.cell import PLANNER, Cell
from tests.make.floor import CODE, INSPECTOR, MAKER, QUALITY, SUPERVISOR


def test_a_supervisor_or_planner_raises_a_part_and_says_why(one_cell: Cell) -> None:
    one_cell.book("create", "A")

    one_cell.first("A", who=PLANNER)

    assert one_cell.here("A").priority == 1
    with pytest.raises(Forbidden):
        one_cell.first("A", rank=0, who=MAKER)
    with pytest.raises(Refused, match="say why"):
        one_cell.do(Prioritise(serial="A", rank=0, reason=" ", key="k"))


def test_a_part_somebody_acted_on_first_is_not_raised_unseen(one_cell: Cell) -> None:
    one_cell.book("create", "A")
    seen = one_cell.part("A").last_seq
    one_cell.book("hold", "A", reason="lot in doubt")

    with pytest.raises(Clash, match="somebody acted on A first"):
        one_cell.do(Prioritise(serial="A", rank=1, reason="test", key="k", seen=seen))


def test_the_same_key_moves_once(one_cell: Cell) -> None:
    one_cell.book("create", "A")
    command = MoveMany(parts=("A",), carriers=("TUB-1",), to="RACK-1", key="same")

    first = one_cell.do(command)
    before = one_cell.events()

    assert one_cell.do(command) == first
    assert one_cell.events() == before


def test_a_move_is_done_wholly_or_not_at_all(one_cell: Cell) -> None:
    one_cell.book("create", "A")
    before = one_cell.events()

    with pytest.raises(Missing, match="no part NONE"):
        one_cell.move("A", "NONE", to="RACK-1")

    assert one_cell.events() == before
    assert one_cell.here("A").whereabouts == ()


@pytest.mark.parametrize(
    ("things", "carriers", "to", "why"),
    [
        ((), (), "RACK-1", "scan what is moved first"),
        (("A",), (), " ", "scan the place"),
        (("A",), (), "B", "B is a part, not a place"),
        ((), ("TUB-1",), "TUB-1", "cannot be moved into"),
    ],
)
def test_a_move_that_makes_no_sense_is_refused(
    one_cell: Cell, things: tuple[str, ...], carriers: tuple[str, ...], to: str, why: str
) -> None:
    one_cell.cleaned("A", "B")

    with pytest.raises(Refused, match=why):
        one_cell.move(*things, to=to, carriers=carriers)


def test_a_trolley_cannot_go_into_the_tub_that_stands_on_it(one_cell: Cell) -> None:
    one_cell.move(carriers=("TUB-1",), to="TR-1")

    with pytest.raises(Refused, match="which lies in it"):
        one_cell.move(carriers=("TR-1",), to="TUB-1")


def test_a_manager_moves_nothing(one_cell: Cell) -> None:
    from tests.make.floor import DELEGATE

    one_cell.book("create", "A")

    with pytest.raises(Forbidden):
        one_cell.move("A", to="RACK-1", who=DELEGATE)


def test_a_scan_in_a_move_ends_the_search(one_cell: Cell) -> None:
    one_cell.book("create", "A")
    one_cell.seek("A")

    one_cell.move("A", to="RACK-1", who=MAKER)

    assert not one_cell.here("A").sought


def test_nothing_begins_at_a_shut_station_and_again_once_it_is_open(cell: Cell) -> None:
    cell.cleaned("A")
    cell.shut("station:FB-1")

    with pytest.raises(Refused, match="FB-1 is shut: survey failed"):
        cell.book("begin", "A", MAKER, step=20, station="FB-1")
    cell.open("station:FB-1")
    cell.book("begin", "A", MAKER, step=20, station="FB-1")

    assert cell.here("A").in_work


@pytest.mark.parametrize("thing", ["step:OAR/20", "lot:L-7"])
def test_nothing_begins_at_a_shut_step_or_of_a_shut_lot(one_cell: Cell, thing: str) -> None:
    one_cell.book("create", "A", lot="L-7")
    one_cell.visit("A", 10)
    one_cell.shut(thing)

    with pytest.raises(Refused, match="is shut"):
        one_cell.book("begin", "A", MAKER, step=20)


def test_only_whom_the_shutting_names_may_open(one_cell: Cell) -> None:
    one_cell.shut(who=SUPERVISOR, opener="quality-engineer")

    with pytest.raises(Forbidden, match="only a quality engineer may open it"):
        one_cell.open(who=SUPERVISOR)
    one_cell.open(who=QUALITY)

    assert one_cell.sheet().shut == ()


def test_a_person_may_be_the_one_who_opens(one_cell: Cell) -> None:
    one_cell.shut(opener="insp-1")

    with pytest.raises(Forbidden, match="only insp-1 may open it"):
        one_cell.open(who=QUALITY)
    one_cell.open(who=INSPECTOR)

    assert one_cell.sheet().shut == ()


def test_a_maker_shuts_nothing(one_cell: Cell) -> None:
    with pytest.raises(Forbidden):
        one_cell.shut(who=MAKER)


@pytest.mark.parametrize(
    ("kind", "code", "opener", "trouble", "why"),
    [
        ("station", "FB-9", "supervisor", Missing, "no station FB-9"),
        ("step", "OAR/99", "supervisor", Missing, "no step 99 of OAR"),
        ("roof", "X", "supervisor", Refused, "cannot be shut"),
        ("lot", "", "supervisor", Refused, "say which lot"),
        ("lot", "L-7", "nobody-1", Missing, "no role and no person"),
        ("lot", "L-7", "", Refused, "who may open it"),
    ],
)
def test_what_cannot_be_shut_is_said(
    one_cell: Cell, kind: str, code: str, opener: str, trouble: type[Exception], why: str
) -> None:
    command = ShutIt(kind=kind, code=code, reason="doubt", opener=opener, key="k")

    with pytest.raises(trouble, match=why):
        one_cell.do(command)


def test_what_is_shut_is_not_shut_twice_nor_what_is_open_opened(one_cell: Cell) -> None:
    with pytest.raises(Refused, match="is not shut"):
        one_cell.open()
    one_cell.shut()
    with pytest.raises(Refused, match="is shut already"):
        one_cell.shut()


def test_opening_needs_to_say_what_was_put_right(one_cell: Cell) -> None:
    one_cell.shut()

    with pytest.raises(Refused, match="what was put right"):
        one_cell.do(OpenUp(thing="station:FB-1", reason=" ", key="k"))


def test_a_refused_try_is_kept_in_the_audit(one_cell: Cell) -> None:
    from ringwright.ledger.tables import Refusal

    one_cell.shut(opener="quality-engineer")
    with pytest.raises(Forbidden):
        one_cell.ledger.execute(
            CODE, OpenUp(thing="station:FB-1", reason="x", key="k"), SUPERVISOR
        )

    rows = one_cell.rows([Refusal.subject, Refusal.actor, Refusal.code])
    assert rows == [("station:FB-1", "sup-1", "forbidden")]
