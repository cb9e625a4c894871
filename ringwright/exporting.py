"""The commands `export` and `dataset`: the record of a site handed out as files."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

from ringwright.core.errors import Refused
from ringwright.opening import moment_asked, opened, tell_practice


def export(arguments: Namespace) -> int:
    """Write the events of a site as a history file."""
    from ringwright.bench.export import history_csv
    from ringwright.core.practice import file_name_of

    with opened() as ledger, ledger.read(arguments.site) as read:
        text = history_csv(read, arguments.product)
        tell_practice(read.site)
        path = Path(arguments.file)
        path = path.with_name(file_name_of(path.name)) if read.site.practice_of else path
    try:
        path.write_text(text, encoding="utf-8", newline="")
    except OSError as trouble:
        raise Refused(f"{path}: {trouble.strerror or trouble}") from None
    print(f"{text.count(chr(10)) - 1} rows written to {path}.")
    return 0


def dataset(arguments: Namespace) -> int:
    """Write parts, visits and readings of a site as a Parquet data set."""
    from ringwright.core.practice import file_name_of
    from ringwright.dataset.service import write_dataset

    folder = Path(arguments.folder)
    try:
        with opened() as ledger, ledger.read(arguments.site, moment_asked(arguments)) as read:
            if read.site.practice_of:
                folder = folder.with_name(file_name_of(folder.name))
            told = write_dataset(read, folder)
            tell_practice(read.site)
    except OSError as trouble:
        raise Refused(f"{folder}: {trouble.strerror or trouble}") from None
    rows = ", ".join(f"{n} {table}" for table, n in told["rows"].items())
    print(f"{rows} of {told['site']} written to {folder}, up to {told['cut_off']}.")
    return 0
