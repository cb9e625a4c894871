"""Which passwords and PINs are taken, and how they are kept.

Sources: OWASP Password Storage Cheat Sheet (argon2id, m = 47104 KiB, t = 1, p = 1); OWASP ASVS
5.0.0, 6.2.1 to 6.2.12 and 11.4.2; RFC 9106 (argon2). The passwords most used are named from
memory; the program's own list is the library zxcvbn's.
"""

from __future__ import annotations

import re
from typing import Any

import pytest
from argon2 import PasswordHasher, extract_parameters
from argon2.low_level import Type
from sqlalchemy import select

from ringwright.core.errors import Refused
from ringwright.people import passwords
from ringwright.people.passwords import (
    check_password,
    check_pin,
    fits,
    hash_secret,
    outdated,
)
from ringwright.people.tables import Account
from tests.make.html import read
from tests.make.people import PASSWORD, House

CONTEXT = ("ringwright", "NORD", "insp-1", "password")


def kept_of(house: House, code: str) -> Any:
    """What the store holds of an account."""
    with house.ledger.store.read() as connection:
        return connection.execute(select(Account).where(Account.code == code)).one()


def test_what_is_kept_is_argon2id_with_the_published_parameters(house: House) -> None:
    house.give("insp-1")
    row = kept_of(house, "insp-1")

    for kept in (row.password_hash, row.pin_hash):
        found = extract_parameters(kept)
        assert found.type is Type.ID
        assert found.memory_cost >= 47_104
        assert (found.time_cost, found.parallelism) == (1, 1)
        assert (found.salt_len, found.hash_len) >= (16, 32)


def test_the_same_password_is_kept_differently_each_time() -> None:
    assert hash_secret(PASSWORD) != hash_secret(PASSWORD)


def test_only_the_very_text_fits() -> None:
    kept = hash_secret(PASSWORD)

    assert fits(kept, PASSWORD)
    for other in (PASSWORD.upper(), PASSWORD + " ", PASSWORD[:-1], ""):
        assert not fits(kept, other)
    assert not fits(None, PASSWORD)
    assert not fits("not a hash", PASSWORD)


@pytest.mark.parametrize("length", [8, 15, 64, 128, 256])
def test_a_password_of_eight_to_256_letters_is_taken_whole(length: int) -> None:
    text = ("quay zinc vole " * 20)[:length]

    assert check_password(text, CONTEXT) == text
    kept = hash_secret(text)
    assert fits(kept, text)
    assert not fits(kept, text[:-1])


@pytest.mark.parametrize("length", [0, 1, 7, 257])
def test_a_shorter_or_longer_one_is_refused(length: int) -> None:
    with pytest.raises(Refused, match="letters"):
        check_password(("quay zinc vole " * 20)[:length], CONTEXT)


@pytest.mark.parametrize(
    "text",
    [
        "qwvzkhtb",
        "QWVZKHTB",
        "80462973",
        "!%/()=?+",
        "zażółć gęślą",
        "鶴が飛ぶ朝の港町",
        "    a b c",
    ],
)
def test_no_rule_asks_for_capitals_figures_or_signs(text: str) -> None:
    """ASVS 6.2.5."""
    assert check_password(text, CONTEXT) == text


@pytest.mark.parametrize(
    "text",
    [
        "password", "12345678", "123456789", "qwertyuiop", "iloveyou", "sunshine", "football",
        "Password1", "PASSWORD", "baseball", "superman", "trustno1",
    ],
)  # fmt: skip
def test_passwords_that_everybody_takes_are_refused(text: str) -> None:
    with pytest.raises(Refused, match="first anybody would try"):
        check_password(text, CONTEXT)


def test_the_three_thousand_used_most_are_refused() -> None:
    """ASVS 6.2.4."""
    from zxcvbn.frequency_lists import FREQUENCY_LISTS  # type: ignore[import-untyped]

    ranked = FREQUENCY_LISTS["passwords"]
    most = ranked[:3000] if isinstance(ranked, list) else sorted(ranked, key=ranked.get)[:3000]
    assert len(most) == 3000
    taken = []
    for text in most:
        try:
            taken.append(check_password(text, CONTEXT))
        except Refused:
            continue
    assert taken == []


@pytest.mark.parametrize(
    "text",
    ["Ringwright", "ringwright2026", "NORD-2026-10", "insp-1!!!!", "aaaaaaaa", "abababab"],
)
def test_words_of_this_place_are_refused(text: str) -> None:
    """ASVS 6.2.11."""
    with pytest.raises(Refused, match="first anybody would try"):
        check_password(text, CONTEXT)


@pytest.mark.parametrize("pin", ["803716", "240682", "80371624", "803716240682"])
def test_a_pin_has_six_to_twelve_digits(pin: str) -> None:
    assert check_pin(pin) == pin


@pytest.mark.parametrize(
    "pin",
    ["", "80371", "8037162406821", "80371a", "٨٠٣٧١٦", "000000", "123456", "987654", "890123"],
)
def test_other_pins_are_refused(pin: str) -> None:
    with pytest.raises(Refused):
        check_pin(pin)


@pytest.mark.parametrize("path", ["/sign-in", "/sign-in/code", "/first", "/account"])
def test_a_password_may_be_pasted_and_filled_in_by_a_manager(house: House, path: str) -> None:
    """ASVS 6.2.6 (masked), 6.2.7 (paste and password managers)."""
    page = read(house.signed_in("insp-1").get(path).text)
    fields = [one for one in page.tags("input") if one.get("type") == "password"]
    secrets = [one for one in fields if "pin" not in one["id"] or "current" in one["id"]]

    assert secrets
    for one in secrets:
        assert one["autocomplete"] in ("current-password", "new-password")
        assert not {"onpaste", "maxlength", "pattern", "readonly"} & set(one)
        assert int(one.get("minlength", "0")) <= 8


@pytest.mark.parametrize("current", ["", "wrong horse, wrong battery"])
def test_a_password_or_pin_is_changed_only_by_who_knows_the_password(
    house: House, current: str
) -> None:
    """ASVS 6.2.3."""
    house.give("insp-1")
    browser = house.signed_in("insp-1")
    before = kept_of(house, "insp-1")
    new = {"password": "eleven otters under ice", "again": "eleven otters under ice"}

    for form in ({"act": "password", **new}, {"act": "pin", "pin": "240682"}):
        answer = browser.post("/account", data={**form, "current": current})
        assert answer.status_code == 422
        assert "not your password of now" in answer.text
    assert kept_of(house, "insp-1") == before


def test_the_password_is_hashed_anew_when_the_parameters_were_raised(house: House) -> None:
    house.give("insp-1")
    weak = PasswordHasher(time_cost=1, memory_cost=8192, parallelism=1).hash(PASSWORD)
    assert outdated(weak)
    from sqlalchemy import update

    with house.ledger.store.write(0) as connection:
        connection.execute(update(Account).values(password_hash=weak))

    assert house.sign_in(house.browser(), "insp-1", "wrong").status_code == 401
    assert kept_of(house, "insp-1").password_hash == weak
    assert house.sign_in(house.browser(), "insp-1").status_code == 303

    new = kept_of(house, "insp-1").password_hash
    assert extract_parameters(new).memory_cost >= 47_104
    assert fits(new, PASSWORD)
    assert not outdated(new)


def test_at_most_two_hashes_are_made_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each takes 46 MiB: many who sign in at once must not exhaust the machine (15.2.2)."""
    import threading
    import time

    running, most, lock = 0, 0, threading.Lock()

    class Slow:
        def verify(self, _kept: str, _text: str) -> bool:
            nonlocal running, most
            with lock:
                running += 1
                most = max(most, running)
            time.sleep(0.02)
            with lock:
                running -= 1
            return True

    monkeypatch.setattr(passwords, "_hasher", Slow())
    threads = [threading.Thread(target=fits, args=("x", "y")) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert most == 2


def test_the_hash_of_nobody_is_a_real_one() -> None:
    assert re.fullmatch(
        r"\$argon2id\$v=19\$m=47104,t=1,p=1\$[\w+/]{22}\$[\w+/]{43}", passwords._NOBODYS
    )
    with pytest.raises(Exception, match="does not match"):
        PasswordHasher().verify(passwords._NOBODYS, "")
