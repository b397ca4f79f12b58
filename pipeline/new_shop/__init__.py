"""A new shop folder: its folders, a `shop.toml` that says what can be set and why, a workbook to enter records in."""

from datetime import date
from pathlib import Path

from pipeline.errors import UserError
from pipeline.new_shop import settings_file
from pipeline.shop import FOLDERS, Shop, load, named_well
from pipeline.writing import whole

WORKBOOK = "inbox/entry.xlsx"


def new_shop(folder: Path, start: date) -> Shop:
    """Make a shop in `folder`, whose records begin on `start`. What else is in the folder stays as it is.

    Raises `UserError` where there is a shop already, or where a file stands in the way.
    """
    from pipeline.new_shop import workbook  # here: a refresh needs the examples beside it, not its library

    named_well(folder)
    settings = folder / "shop.toml"
    if settings.exists():
        raise UserError("This folder holds a shop already; it stays as it is.", str(folder), "Name a new folder.")
    for path in (folder, *(folder / name for name in FOLDERS)):
        if path.exists() and not path.is_dir():
            raise UserError("A file stands where a folder should be.", str(path), "Name a new folder.")
    book = folder / WORKBOOK
    if book.exists():
        raise UserError("An entry workbook is there already; it stays as it is.", str(book), "Name a new folder.")
    for name in FOLDERS:
        whole.make_folder(folder / name)
    whole.write(settings, settings_file.text(start))
    try:
        shop = load(folder)
        whole.write(book, workbook.content(shop))
    except BaseException:
        # half a shop would be in the way of a second try
        settings.unlink(missing_ok=True)
        raise
    return shop
