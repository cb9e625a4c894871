"""Every table of the store, for migrations and replays."""

from __future__ import annotations

from ringwright.attachments import tables as attachments_tables
from ringwright.db import Base
from ringwright.flow import tables as flow_tables
from ringwright.furnaces import tables as furnaces_tables
from ringwright.handover import tables as handover_tables
from ringwright.ledger import tables as ledger_tables
from ringwright.machines import tables as machines_tables
from ringwright.material import tables as material_tables
from ringwright.parts import tables as parts_tables
from ringwright.people import tables as people_tables
from ringwright.routecards import tables as routecards_tables
from ringwright.sets import run_tables
from ringwright.sets import tables as sets_tables
from ringwright.sites import tables as sites_tables
from ringwright.wallmaps import tables as wallmaps_tables
from ringwright.welds import tables as welds_tables

ALL = (
    ledger_tables,
    parts_tables,
    people_tables,
    routecards_tables,
    sites_tables,
    flow_tables,
    sets_tables,
    run_tables,
    attachments_tables,
    furnaces_tables,
    handover_tables,
    machines_tables,
    welds_tables,
    wallmaps_tables,
    material_tables,
)
METADATA = Base.metadata
