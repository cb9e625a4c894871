"""Does an id token say who stands here? The checks of OpenID Connect Core 1.0, 3.1.3.7."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from authlib.oidc.core import CodeIDToken
from joserfc import jwt
from joserfc.errors import InvalidKeyIdError, JoseError
from joserfc.jwk import JWKRegistry, Key, KeySet
from joserfc.jws import JWSRegistry

from ringwright.core.errors import RingwrightError

SIGNATURES: Final = frozenset({"RS256", "PS256", "ES256", "EdDSA"})
"""What a token may be signed with: by a key that only the server has. None at all, or one that
we know too (HS256), proves nothing (RFC 8725, 3.1)."""
LEEWAY_S: Final = 60
"""Two clocks of one shop may differ by that."""
OLDEST_S: Final = 600
"""A token answers the sign-on that was just begun."""
LETTERS_OF_2048: Final = 342
"""How long the modulus of a key of 2048 bits is in a key set (RFC 7518, 3.3 and 6.3.1.1)."""


class NotProved(RingwrightError):
    """The sign-on server's answer does not prove who stands here."""

    status = 401
    code = "not-proved"


class UnknownKey(Exception):
    """The token names a key that is not among those we have; there may be new ones."""


class _Signatures(JWSRegistry):
    """Our list alone decides; a header's other fields are left unread (RFC 7515, 4.1)."""

    def __init__(self) -> None:
        super().__init__(algorithms=SIGNATURES, strict_check_header=False)

    def get_alg(self, name: str) -> Any:
        if name not in SIGNATURES:
            raise NotProved(_but("its signature is of a kind that is not taken here"))
        return self.algorithms[name]


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """What the token must say."""

    issuer: str
    client: str
    nonce: str
    now_s: int


def key_set(document: dict[str, Any]) -> KeySet:
    """The keys by which a server signs; those of other use or strength are left out."""
    given = document.get("keys")
    found = [_key(data) for data in given if isinstance(data, dict)] if given else []
    return KeySet([key for key in found if key is not None])


def _key(data: dict[str, Any]) -> Key | None:
    """None for a key that is not for us; it must not spoil the others (RFC 7517, 5)."""
    if not _usable(data):
        return None
    try:
        return JWKRegistry.import_key(data)
    except (JoseError, ValueError, TypeError, KeyError):
        return None


def _usable(data: dict[str, Any]) -> bool:
    strong = data.get("kty") in ("EC", "OKP") or (
        data.get("kty") == "RSA" and len(str(data.get("n", ""))) >= LETTERS_OF_2048
    )
    return strong and data.get("use", "sig") == "sig"


def check_id_token(token: object, keys: KeySet, expected: Expected) -> dict[str, Any]:
    """What the token says; raises NotProved, UnknownKey."""
    if not isinstance(token, str):
        raise NotProved(_but("it holds no id token"))
    try:
        read = jwt.decode(token, keys, registry=_Signatures())
        claims = CodeIDToken(
            read.claims,
            read.header,
            {"iss": {"essential": True, "value": expected.issuer}},
            {"nonce": expected.nonce, "client_id": expected.client},
        )
        # Core 3.1.3.7, 3: whoever else it is for, we trust nobody with a person's sign-in.
        if claims.get("aud") not in (expected.client, [expected.client]):
            raise NotProved(_but("it is not for us alone"))
        claims.validate(expected.now_s, LEEWAY_S)
    except InvalidKeyIdError:
        raise UnknownKey from None
    except JoseError as trouble:
        raise NotProved(_but(_why(trouble))) from None
    except (ValueError, TypeError):
        raise NotProved(_but("it is no id token")) from None
    if claims["iat"] < expected.now_s - OLDEST_S:
        raise NotProved(_but("it was made too long ago"))
    return dict(claims)


def _but(why: str) -> str:
    return f"the sign-on server's answer does not hold: {why}; try again, or use a password"


def _why(trouble: JoseError) -> str:
    """The kind of fault, never what the token said."""
    claim = getattr(trouble, "claim", "")
    known = {
        "bad_signature": "its signature is not the server's",
        "expired_token": "it has expired; are both clocks right?",
        "invalid_claim": f"{claim} is not as it must be",
        "missing_claim": f"it says no {claim}",
    }
    return known.get(trouble.error, "it cannot be read")
