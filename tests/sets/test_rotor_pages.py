"""A product's rotor: entered by the design authority, compared with, refused from others."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from ringwright.sets.building import SetRotor
from tests.make.set_screen import SetScreen, seen_in
from tests.make.sets import CODE, PRODUCT, finished, open_hall


@pytest.fixture
def screen(sqlite_url: str) -> Iterator[SetScreen]:
    """Twenty released blades; eight of them reserved; the planner at the screen."""
    hall = open_hall(sqlite_url, finished(20))
    yield SetScreen(sqlite_url, hall)
    hall.ledger.store.close()


def enter_rotor(screen: SetScreen, **rotor: object) -> None:
    command = SetRotor(
        key=screen.hall.key(), product=PRODUCT, rotor=dict(rotor), reason="drawing 7"
    )
    screen.hall.act("design-authority", command)


def test_the_rotor_is_entered_by_the_design_authority(screen: SetScreen) -> None:
    screen.who = "design-authority-1"
    given = {"key": "r", "mass_kg": "60", "speed_rpm": "3500", "grade_mm_s": "6.3"}
    more = {"view": "rear", "clockwise": "no", "reason": "drawing 7, issue B"}

    answer = screen.client.post(
        f"/sets/rotor/{PRODUCT}", data={**given, **more}, headers=screen.headers
    )

    told = screen.follow(answer)
    # ISO 21940-11: U = 1000 · 6.3 · 60 / (2π · 3500/60) = 1031.3 g·mm.
    assert "Permissible residual unbalance of the rotor: 1,031 g·mm." in told
    assert "Seen from the rear, slots anticlockwise" in seen_in(screen.see().text)


def test_from_anyone_else_a_rotor_is_refused(screen: SetScreen) -> None:
    head = screen.hall.ledger.head(CODE)
    given = {
        "key": "r",
        "mass_kg": "61.5",
        "view": "rear",
        "clockwise": "no",
        "reason": "guess",
    }

    answer = screen.client.post(f"/sets/rotor/{PRODUCT}", data=given, headers=screen.headers)

    assert answer.status_code == 403
    assert screen.hall.ledger.head(CODE) == head


@pytest.mark.parametrize("mass", ["heavy", "-3", "nan"])
def test_a_mass_that_cannot_be_is_refused(screen: SetScreen, mass: str) -> None:
    screen.who = "design-authority-1"
    given = {"key": "r", "mass_kg": mass, "reason": "drawing 7"}

    answer = screen.client.post(f"/sets/rotor/{PRODUCT}", data=given, headers=screen.headers)

    assert answer.status_code == 422
    assert f'value="{mass}"' in answer.text


# ISO 21940-11: U = 1000 · 6.3 · 60 / (2π · 3500/60) = 1031.32 g·mm; a share is a part of it.
@pytest.mark.parametrize(("share", "status"), [("1031", 303), ("1032", 422)])
def test_a_share_is_at_most_the_whole_permissible_unbalance(
    screen: SetScreen, share: str, status: int
) -> None:
    screen.who = "design-authority-1"
    given = {"mass_kg": "60", "speed_rpm": "3500", "grade_mm_s": "6.3", "share_g_mm": share}
    more = {"key": "r", "reason": "drawing 7"}

    answer = screen.client.post(
        f"/sets/rotor/{PRODUCT}",
        data={**given, **more},
        headers=screen.headers,
        follow_redirects=False,
    )

    assert answer.status_code == status
    if status == 422:
        assert "more than the whole permissible residual unbalance, 1031.3 g·mm" in answer.text
        assert 'value="1032"' in answer.text


def test_a_rotor_of_no_product_is_not_found(screen: SetScreen) -> None:
    assert screen.client.get("/sets/rotor/NONE").status_code == 404


def test_a_set_is_compared_with_a_share_only_where_one_is_allotted(screen: SetScreen) -> None:
    assert "the share" not in seen_in(screen.see().text)

    enter_rotor(screen, moment_u_g_mm=60.0, share_g_mm=100_000.0)

    told = seen_in(screen.see().text)
    assert "lie within the share, 100,000 g·mm." in told
    assert "The uncertainty is the scale's part alone" in told
