"""From what a form or a program says of a ring to the fact that is recorded."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

from ringwright.core.errors import Refused
from ringwright.core.fields import Fields
from ringwright.welds import facts

WELD, RADIOGRAPH, CORRECT = "weld", "radiograph", "correct"
PERMISSION_OF: Final[dict[str, str]] = {
    facts.VanesFitted.kind: WELD,
    facts.WeldsMade.kind: WELD,
    facts.WeldExcavated.kind: WELD,
    facts.WeldRedone.kind: WELD,
    facts.StressRelieved.kind: WELD,
    facts.PenetrantRead.kind: RADIOGRAPH,
    facts.ExcavationProved.kind: RADIOGRAPH,
    facts.FilmTaken.kind: RADIOGRAPH,
    facts.FilmRead.kind: RADIOGRAPH,
    facts.WeldEntryWithdrawn.kind: CORRECT,
}
"""What may be recorded of a ring, and the permission it needs."""
FILM_LIMIT: Final = 20


def fact_of(act: str, said: Mapping[str, Any], actor: str) -> facts.RingFact:
    """The fact; raises Refused for a field that lacks, is unknown, or makes no sense."""
    make = _MAKERS.get(act)
    if make is None:
        raise Refused(f"{act[:40]!r} is none of {', '.join(_MAKERS)}")
    return make(Fields(dict(said), act), actor)


def _fitted(said: Fields, actor: str) -> facts.RingFact:
    del actor
    said.only("vanes", "gauge")
    vanes = []
    for place, table in enumerate(said.items("vanes"), start=1):
        one = Fields(table, f"{said.where}: vane no. {place}")
        one.only("vane", "radial_mm", "axial_mm")
        vanes.append(
            {
                "vane": one.whole("vane"),
                "radial_mm": one.number("radial_mm"),
                "axial_mm": one.number("axial_mm"),
            }
        )
    return facts.VanesFitted(vanes=tuple(vanes), gauge=said.code("gauge", "") or None)


_OF_PASS: Final = ("welder", "filler_lot", "procedure", "oxygen_ppm", "colour")


def _passed(said: Fields, actor: str) -> dict[str, Any]:
    """What is said of welding; whoever records it welded, unless somebody else is named."""
    return {
        "welder": said.code("welder", "") or actor,
        "filler_lot": said.code("filler_lot"),
        "procedure": said.text("procedure"),
        "oxygen_ppm": said.number("oxygen_ppm"),
        "colour": said.text("colour"),
    }


def _made(said: Fields, actor: str) -> facts.RingFact:
    said.only("welds", *_OF_PASS)
    return facts.WeldsMade(welds=_welds(said, "welds"), **_passed(said, actor))


def _redone(said: Fields, actor: str) -> facts.RingFact:
    said.only("weld", *_OF_PASS)
    return facts.WeldRedone(weld=said.code("weld"), **_passed(said, actor))


def _welds(said: Fields, key: str) -> tuple[str, ...]:
    return tuple(Fields({key: one}, said.where).code(key) for one in said.items(key))


def _penetrant(said: Fields, actor: str) -> facts.RingFact:
    del actor
    said.only("clear", "shown", "note")
    note = said.text("note", "") or None
    return facts.PenetrantRead(
        clear=_welds(said, "clear"), shown=_welds(said, "shown"), note=note
    )


def _taken(said: Fields, actor: str) -> facts.RingFact:
    del actor
    said.only("film", "welds", "technique", "technique_class", "iqi", "wire", "file")
    film = said.code("film")
    if len(film) > FILM_LIMIT:
        said.refuse(f"film must be at most {FILM_LIMIT} letters")
    return facts.FilmTaken(
        film=film,
        welds=_welds(said, "welds"),
        technique=said.text("technique"),
        technique_class=said.choice("technique_class", ("A", "B")),
        iqi=said.code("iqi", "W"),
        wire=said.whole("wire", at_least=0),
        file=said.text("file", "") or None,
    )


def _read(said: Fields, actor: str) -> facts.RingFact:
    del actor
    said.only("film", "accepted", "not_accepted", "defects")
    defects = []
    for place, table in enumerate(said.items("defects"), start=1):
        one = Fields(table, f"{said.where}: defect no. {place}")
        one.only("weld", "kind", "size_mm", "at_mm")
        defects.append(
            {
                "weld": one.code("weld"),
                "kind": one.code("kind"),
                "size_mm": one.number("size_mm"),
                "at_mm": one.number("at_mm"),
            }
        )
    return facts.FilmRead(
        film=said.code("film"),
        accepted=_welds(said, "accepted"),
        not_accepted=_welds(said, "not_accepted"),
        defects=tuple(defects),
    )


def _excavated(said: Fields, actor: str) -> facts.RingFact:
    del actor
    said.only("weld", "depth_mm", "note")
    return facts.WeldExcavated(
        weld=said.code("weld"),
        depth_mm=said.number("depth_mm"),
        note=said.text("note", "") or None,
    )


def _proved(said: Fields, actor: str) -> facts.RingFact:
    del actor
    said.only("weld", "method", "clear")
    clear = said.table.get("clear")
    if not isinstance(clear, bool):
        said.refuse("clear must be true or false")
    return facts.ExcavationProved(
        weld=said.code("weld"), method=said.text("method"), clear=clear
    )


def _relieved(said: Fields, actor: str) -> facts.RingFact:
    del actor
    said.only("welds", "run")
    return facts.StressRelieved(welds=_welds(said, "welds"), run=said.text("run"))


def _withdrawn(said: Fields, actor: str) -> facts.RingFact:
    del actor
    said.only("entry", "reason")
    return facts.WeldEntryWithdrawn(reason=said.text("reason"))


_MAKERS: Final[dict[str, Callable[[Fields, str], facts.RingFact]]] = {
    facts.VanesFitted.kind: _fitted,
    facts.WeldsMade.kind: _made,
    facts.PenetrantRead.kind: _penetrant,
    facts.FilmTaken.kind: _taken,
    facts.FilmRead.kind: _read,
    facts.WeldExcavated.kind: _excavated,
    facts.ExcavationProved.kind: _proved,
    facts.WeldRedone.kind: _redone,
    facts.StressRelieved.kind: _relieved,
    facts.WeldEntryWithdrawn.kind: _withdrawn,
}


def welds_named(text: str, known: Sequence[str]) -> list[str]:
    """Welds as gloved hands type them: `1-6 OUT, 8-IN` names 1-OUT to 6-OUT and 8-IN.

    Raises Refused for a piece that names none.
    """
    found: list[str] = []
    for piece in text.upper().replace(";", ",").split(","):
        if piece.strip():
            found += _piece(piece.strip(), known)
    return list(dict.fromkeys(found))


def _piece(piece: str, known: Sequence[str]) -> list[str]:
    if piece in known:
        return [piece]
    vanes, _, joint = piece.partition(" ")
    first, dash, last = vanes.partition("-")
    sound = first.isdecimal() and first.isascii()
    sound = sound and (not dash or (last.isdecimal() and last.isascii()))
    if not sound or len(vanes) > 9:
        raise Refused(f"{piece[:30]!r} names no weld; write 1-OUT, or 1-6 OUT for several")
    among = range(int(first), int(last if dash else first) + 1)
    picked = {str(vane) for vane in among}
    joint = joint.strip()
    found = [
        code
        for code in known
        if code.partition("-")[0] in picked and joint in ("", code.partition("-")[2])
    ]
    if not found:
        raise Refused(f"{piece[:30]!r} names no weld of the plan")
    return found
