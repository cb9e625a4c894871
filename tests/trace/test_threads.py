"""The threads picture: one thread a part, bundles above 150, marks that stay few."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from ringwright.trace.threads import (
    MOST_MARKS,
    MOST_THREADS,
    ROW_PX,
    Strand,
    draw_marks,
    draw_web,
    parts_per_mark,
)

STRANDS = st.lists(
    st.builds(Strand, st.integers(0, 7), st.integers(0, 9), st.booleans()), max_size=400
)


@given(STRANDS)
def test_every_part_is_in_one_thread_and_every_thread_ends_in_its_rows(
    strands: list[Strand],
) -> None:
    web = draw_web(strands, 8, 10)

    assert sum(thread.parts for thread in web.threads) == len(strands)
    assert web.bundled == (len(strands) > MOST_THREADS)
    for thread in web.threads:
        assert 0 <= thread.y1 <= web.height
        assert 0 <= thread.y2 <= web.height


@given(STRANDS)
def test_the_rows_that_threads_join_are_those_of_the_parts(strands: list[Strand]) -> None:
    web = draw_web(strands, 8, 10)
    drawn = {(int(t.y1 // ROW_PX), int(t.y2 // ROW_PX), t.needs) for t in web.threads}

    assert drawn == {(s.row, s.place, s.needs) for s in strands}


def test_threads_from_one_row_keep_the_order_of_their_places_so_that_none_cross() -> None:
    strands = [Strand(0, 2), Strand(0, 0), Strand(0, 1), Strand(0, 0)]
    threads = sorted(draw_web(strands, 1, 3).threads, key=lambda thread: thread.y1)

    assert [thread.y2 for thread in threads] == sorted(thread.y2 for thread in threads)


def test_a_bundle_is_as_wide_as_its_count_says() -> None:
    strands = [Strand(0, 0)] * 200 + [Strand(0, 1)] * 100 + [Strand(1, 1)]
    widths = {t.parts: t.width for t in draw_web(strands, 2, 2).threads}

    assert widths[200] > widths[100] > widths[1]
    assert abs((widths[100] - widths[1]) / (widths[200] - widths[1]) - 99 / 199) < 0.001


@given(st.integers(1, 100_000))
def test_no_row_has_more_marks_than_can_be_drawn(largest: int) -> None:
    each = parts_per_mark(largest)

    assert len(draw_marks([("waiting", False)] * largest, each).marks) <= MOST_MARKS
    assert each == 1 or largest > MOST_MARKS * each // 10


def test_held_marks_stand_first_under_one_tie_and_each_part_is_a_mark() -> None:
    shapes = [("waiting", False), ("sent", False), ("work", True), ("waiting", True)]
    drawn = draw_marks(shapes, 1)

    assert [mark.shape for mark in drawn.marks] == ["waiting", "work", "sent", "waiting"]
    assert len(drawn.ties) == 1
    assert drawn.marks[1].x < drawn.ties[0].x < drawn.marks[2].x + 6
