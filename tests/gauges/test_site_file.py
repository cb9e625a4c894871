"""Gauges and masters in a site file."""

from __future__ import annotations

import pytest

from ringwright.assembly import SYSTEM
from ringwright.core.errors import Refused
from ringwright.gauges.queries import read_gauges, read_masters
from ringwright.sites.service import ExtendSite
from ringwright.sites.toml import parse_site
from tests.make.floor import CODE, SITE
from tests.make.gauges import GaugeRoom

GAUGES = """
[[station]]
code = "WEIGH"
name = "Weighing bench"
[[gauge]]
code = "MS-1"
kind = "moment-scale"
name = "Moment scale"
unit = "g_mm"
uncertainty = 8.0
resolution = 1
station = "WEIGH"
calibrated = "2026-09-01"
due = "2027-02-28"
certificate = "C-77"
[[master]]
code = "MB-1"
gauge_kind = "moment-scale"
unit = "g_mm"
value = 250000
allowed = 25
"""


def extend(room: GaugeRoom, text: str) -> int:
    """Load a site file; how many facts that added."""
    command = ExtendSite(file=parse_site(SITE + text, "site"))
    added: int = room.floor.ledger.execute(CODE, command, SYSTEM)["added"]
    return added


def test_a_file_brings_gauge_calibration_and_master_once(room: GaugeRoom) -> None:
    first = extend(room, GAUGES)
    again = extend(room, GAUGES)

    with room.floor.ledger.read(CODE) as read:
        gauges = read_gauges(read.connection, read.site.id)
        masters = read_masters(read.connection, read.site.id)
    assert (first, again) == (4, 0)
    assert [(one.code, one.uncertainty, one.station) for one in gauges] == [
        ("MS-1", 8.0, "WEIGH")
    ]
    assert [(one.code, one.value, one.allowed) for one in masters] == [("MB-1", 250000, 25)]
    assert room.past("MS-1").calibrations[0].certificate == "C-77"


def test_a_file_undoes_no_later_calibration(room: GaugeRoom) -> None:
    extend(room, GAUGES)
    room.calibrate("MS-1", on="2026-09-20", good=False, note="drifts")

    extend(room, GAUGES)

    assert room.standing("MS-1").state == "failed its calibration"


@pytest.mark.parametrize(
    ("was", "now", "why"),
    [
        ("uncertainty = 8.0", "uncertainty = 0", "uncertainty must be above zero"),
        ("uncertainty = 8.0", 'uncertainty = "8"', "uncertainty"),
        ('due = "2027-02-28"', 'due = "28.2.2027"', "due"),
        ('due = "2027-02-28"', 'due = "2026-01-01"', "due lies before"),
        ('kind = "moment-scale"\nname', 'kind = ""\nname', "kind"),
        ('station = "WEIGH"', 'station = "NOWHERE"', "there is no station NOWHERE"),
        ("allowed = 25", "allowed = 0", "allowed must be above zero"),
        ('unit = "g_mm"\nuncertainty', "uncertainty", "unit is missing"),
        ("value = 250000", "value = inf", "value"),
        ("[[gauge]]", "[[gauge]]\ncolour = 1", "colour"),
    ],
)
def test_an_unsound_one_is_refused_and_nothing_is_taken(
    room: GaugeRoom, was: str, now: str, why: str
) -> None:
    assert was in GAUGES

    with pytest.raises(Refused, match=why):
        extend(room, GAUGES.replace(was, now, 1))

    with room.floor.ledger.read(CODE) as read:
        assert read_gauges(read.connection, read.site.id) == []
