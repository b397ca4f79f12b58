import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.readers.encoding import decode

TEXT = "Größe;Preis €\r\nnaïve – blé;12,50\r\n"


@pytest.mark.parametrize(
    ("raw", "encoding", "marked"),
    [
        (TEXT.encode(), "utf-8", False),
        (TEXT.encode("utf-8-sig"), "utf-8", True),
        (b"\xff\xfe" + TEXT.encode("utf-16-le"), "utf-16-le", True),
        (b"\xfe\xff" + TEXT.encode("utf-16-be"), "utf-16-be", True),
        (TEXT.encode("utf-16-le"), "utf-16-le", False),
        (TEXT.encode("utf-16-be"), "utf-16-be", False),
        (b"\xff\xfe\x00\x00" + TEXT.encode("utf-32-le"), "utf-32-le", True),
        (TEXT.encode("cp1252"), "windows-1252", False),
    ],
)
def test_each_encoding(raw, encoding, marked):
    decoded = decode(raw)
    assert (decoded.data.decode(), decoded.encoding, decoded.marked) == (TEXT, encoding, marked)


def test_a_byte_without_meaning_in_windows_1252():
    # the WHATWG Encoding Standard maps 0x81 to U+0081; Python's codec refuses it
    assert decode(b"caf\xe9\x81").data.decode() == "café\x81"


@given(st.binary(max_size=64))
def test_any_bytes_become_text(raw):
    assert isinstance(decode(raw).data.decode(), str)


@given(st.text(max_size=64).filter(lambda t: "\0" not in t and t[:1] not in ("\ufeff", "\ufffe")))
def test_utf8_stays_as_it_is(text):
    assert decode(text.encode()).data == text.encode()
