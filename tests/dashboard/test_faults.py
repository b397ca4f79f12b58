"""What is said of a fault: its type and the place in our code, and never the text that a library put into it."""

import logging

import polars as pl
import pytest

from dashboard import faults, words
from pipeline.pages.actions import place_of


def met() -> BaseException:
    """A fault met in our code, to whose text a cell was added as a library would."""
    try:
        words.month("Mr Sentinel")  # type: ignore[arg-type]
    except ValueError as error:
        error.args = (f"{error}: 'Mr Sentinel'",)
        return error
    raise AssertionError("there is such a month")


def test_a_fault_is_told_by_its_type_and_our_place() -> None:
    told = place_of(met())
    assert told.startswith("ValueError at dashboard/words.py:")
    assert "Sentinel" not in told


def test_a_fault_in_a_library_alone_is_told_by_its_type() -> None:
    with pytest.raises(pl.exceptions.PolarsError) as raised:
        pl.Series(["Mr Sentinel"]).cast(pl.Int64)
    assert place_of(raised.value) == "InvalidOperationError"


def test_no_log_holds_the_text_of_a_fault(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture, capsys: pytest.CaptureFixture[str]
) -> None:
    for place in ((faults.sys, "excepthook"), (faults.threading, "excepthook")):
        monkeypatch.setattr(*place, getattr(*place))
    kept = logging.getLogRecordFactory()
    try:
        faults.keep_text_out_of_logs()
        logging.getLogger("somebody").error("Uncaught %s", "error", exc_info=met())
        faults.sys.excepthook(ValueError, met(), None)
    finally:
        logging.setLogRecordFactory(kept)
    for said in (caplog.text, capsys.readouterr().err):
        assert "ValueError at dashboard/words.py" in said
        assert "Sentinel" not in said
        assert "Traceback" not in said
