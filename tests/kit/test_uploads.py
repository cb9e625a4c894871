"""Files are judged by what is in them, then by their name, and never kept under it.

Sources: OWASP ASVS 5.0.0, 5.2.1, 5.2.2, 5.2.3, 5.3.2, 1.5.1; how files begin is from memory.
"""

from __future__ import annotations

import io
import zipfile

import pytest
from openpyxl import Workbook

from ringwright.core.errors import Refused
from ringwright.kit.forms import Upload, plain_name
from ringwright.sets.upload import Units, read_upload

POOL = "serial,moment\nA-1,12000\nA-2,12010\n"


def workbook() -> bytes:
    book, kept = Workbook(), io.BytesIO()
    assert book.active is not None
    for row in (["serial", "moment"], ["A-1", 12000], ["A-2", 12010]):
        book.active.append(row)
    book.save(kept)
    return kept.getvalue()


def repacked(more: dict[str, bytes]) -> bytes:
    """A workbook with parts added or replaced."""
    kept = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(workbook())) as old,
        zipfile.ZipFile(kept, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for entry in old.infolist():
            if entry.filename not in more:
                new.writestr(entry, old.read(entry))
        for name, content in more.items():
            new.writestr(name, content)
    return kept.getvalue()


@pytest.mark.parametrize(
    ("name", "content", "told"),
    [
        ("history.csv", workbook(), "a workbook or an archive; save its content as CSV"),
        ("history.csv", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 90, "may hold macros"),
        ("history.csv", b"%PDF-1.7\n", "is a PDF"),
        ("history.csv", b"\x89PNG\r\n\x1a\n", "is a picture"),
        ("history.csv", b"\x1f\x8b\x08", "is a packed file"),
        ("history.csv", b"SQLite format 3\x00", "is a database"),
        ("history.csv", b"at,serial\n\x00,x\n", "bytes that no text holds"),
        ("history.csv", b"at,serial\n\x07,x\n", "bytes that no text holds"),
        ("history.csv", "at,serial\n".encode("utf-16"), "not UTF-8"),
        ("history.csv", b"at,\xff\n", "not UTF-8"),
        ("history.exe", b"at,serial\n", "named as no CSV file"),
        ("history", b"at,serial\n", "named as no CSV file"),
        ("history.csv.exe", b"at,serial\n", "named as no CSV file"),
        ("history.csv", b"a" * 101, "is larger than"),
    ],
)
def test_a_file_that_is_no_text_is_refused_in_a_sentence(
    name: str, content: bytes, told: str
) -> None:
    with pytest.raises(Refused, match=told):
        Upload(name=name, content=content).text(100 if len(content) == 101 else 1_000_000)


def test_a_text_is_read_whatever_the_case_of_its_ending() -> None:
    assert (
        Upload(name="H.CSV", content=b"\xef\xbb\xbfat,serial\r\n").text(100) == "at,serial\r\n"
    )
    assert Upload(name="s.toml", content=b"[site]").text(100, ("toml", "txt")) == "[site]"
    with pytest.raises(Refused, match="named as no TOML"):
        Upload(name="s.csv", content=b"[site]").text(100, ("toml", "txt"))


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("../../etc/passwd", "passwd"),
        ("C:\\Users\\x\\pool.csv", "pool.csv"),
        ("pool\u202evsc.exe", "poolvsc.exe"),
        ("a\nb\x00c.csv", "abc.csv"),
        ("/", "file"),
        ("", "file"),
        ("x" * 300 + ".csv", "x" * 116 + ".csv"),
    ],
)
def test_a_name_is_shown_without_its_folders_and_tricks(name: str, shown: str) -> None:
    assert plain_name(name) == shown


def test_the_workbook_of_these_tests_is_sound() -> None:
    assert len(read_upload(Upload(name="p.xlsx", content=workbook()), Units()).blades) == 2
    sound = Upload(name="p.xlsx", content=repacked({"docProps/note.txt": b"a"}))
    assert len(read_upload(sound, Units()).blades) == 2


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ({"xl/vbaProject.bin": b"x"}, "holds macros"),
        ({"xl/macrosheets/sheet1.xml": b"x"}, "holds macros"),
        ({"xl/activeX/activeX1.bin": b"x"}, "holds macros"),
        ({f"a/{number}": b"" for number in range(2_100)}, "more pieces"),
        ({"xl/media/bomb": b"\0" * 70_000_000}, "unpacks to more"),
    ],
    ids=["vba", "old macros", "controls", "pieces", "bomb"],
)
def test_a_workbook_with_programs_or_too_much_in_it_is_refused(
    more: dict[str, bytes], told: str
) -> None:
    with pytest.raises(Refused, match=told):
        read_upload(Upload(name="p.xlsx", content=repacked(more)), Units())


def test_entities_of_a_workbook_are_not_followed() -> None:
    """A file named by the workbook is not read; entities within entities do not grow."""
    laughs = "".join(f'<!ENTITY l{n} "{f"&l{n - 1};" * 10}">' for n in range(1, 10))
    entities = (
        f'<!DOCTYPE s [<!ENTITY l0 "lol">{laughs}<!ENTITY f SYSTEM "file:///etc/passwd">]>'
    )
    for use in ("&l9;", "&f;"):
        sheet = (
            '<?xml version="1.0"?>' + entities + '<worksheet xmlns="http://schemas.openxml'
            'formats.org/spreadsheetml/2006/main"><sheetData><row r="1"><c r="A1" t="inline'
            f'Str"><is><t>serial{use}</t></is></c></row></sheetData></worksheet>'
        )
        file = repacked({"xl/worksheets/sheet1.xml": sheet.encode()})
        with pytest.raises(Refused) as found:
            read_upload(Upload(name="p.xlsx", content=file), Units())
        assert "root:" not in str(found.value)


def test_a_workbook_by_another_name_is_refused() -> None:
    for name in ("p.csv", "p.xlsm", "p.xls", "p"):
        with pytest.raises(Refused, match=r"neither a CSV file nor an \.xlsx workbook"):
            read_upload(Upload(name=name, content=workbook()), Units())
    with pytest.raises(Refused, match="neither"):
        read_upload(Upload(name="p.xlsx", content=POOL.encode()), Units())
