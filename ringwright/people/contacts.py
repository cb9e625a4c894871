"""Names and telephone numbers, kept beside the record so that they can be erased."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from sqlalchemy import Connection, delete, insert, select

from ringwright.core.errors import Refused
from ringwright.core.fields import problem_of_text
from ringwright.db import Store
from ringwright.people.tables import PersonContact
from ringwright.sites.queries import person_known

_PHONE: Final = re.compile(r"\+?[0-9][0-9 ()/.-]{1,38}(?: ?x ?[0-9]{1,6})?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Contact:
    """Whom a code stands for, and where to call them."""

    code: str
    name: str = ""
    phone: str = ""

    @property
    def dial(self) -> str:
        """The number as a telephone takes it; empty where there is none."""
        return re.sub(r"[^0-9+]", "", self.phone.partition("x")[0])


def read_contacts(connection: Connection, site_id: int) -> dict[str, Contact]:
    """Person's code to name and telephone, of those that were kept."""
    query = select(PersonContact).where(PersonContact.site_id == site_id)
    return {
        row.code: Contact(code=row.code, name=row.name, phone=row.phone)
        for row in connection.execute(query.order_by(PersonContact.code))
    }


def keep_contact(store: Store, site_id: int, contact: Contact) -> None:
    """Keep a person's name and number, in place of what was kept; raises Refused, Missing."""
    name, phone = contact.name.strip(), contact.phone.strip()
    problem = problem_of_text(name)
    if problem is not None:
        raise Refused(f"name {problem}")
    if phone and not _PHONE.fullmatch(phone):
        raise Refused(f"{phone[:40]!r} is not a telephone number such as +47 555 01 234")
    if not name and not phone:
        raise Refused("give a name or a telephone number, or erase the person's")
    with store.write(site_id) as connection:
        person_known(connection, site_id, contact.code)
        _erase(connection, site_id, contact.code)
        connection.execute(
            insert(PersonContact).values(
                site_id=site_id, code=contact.code, name=name, phone=phone
            )
        )


def erase_contact(store: Store, site_id: int, code: str) -> None:
    """Forget a person's name and number; the record goes on knowing the code alone."""
    with store.write(site_id) as connection:
        _erase(connection, site_id, code)


def _erase(connection: Connection, site_id: int, code: str) -> None:
    connection.execute(
        delete(PersonContact).where(
            PersonContact.site_id == site_id, PersonContact.code == code
        )
    )
