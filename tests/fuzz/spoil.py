"""Good input, spoiled as files get spoiled: cut, flipped, spliced, doubled, odd numbers."""

import re

from hypothesis import strategies as st

NUMBERS = [b"0", b"-1", b"1", b"-0", b"127", b"128", b"255", b"256", b"-32768", b"32767", b"65535",
           b"65536", b"1073741823", b"1073741824", b"-1073741825", b"4294967295", b"4294967296",
           b"1e400", b"-1e308", b"nan", b"NaN", b"Infinity", b"-inf", b"1_000", b"0x10", b"1,5",
           b"00", b"1.0", b"+1", b".5", b"5.", b"\xd9\xa1", b"9" * 400, b"9" * 5000, b"", b" ",
           b"99", b"100", b"30000", b"30001", b"1500", b"1501", b"1e15", b"500000", b"1e-400"]
TEXT_PARTS = [b"\xef\xbb\xbf", b"\r\n", b"\r", b"\n", b"\n\n", b"\x00", b'"', b'""', b"'", b",",
              b";", b"\t", b":", b"{", b"}", b"[", b"]", b"\\", b"\\u0000", b"\\ud800", b"null",
              b"true", b"\xc2\xa0", b"\xe2\x80\xa8", b"\xff", b"\xed\xa0\x80", b"#", b"x" * 140000,
              b"nz_g", b"flap", b"time_s", b"--", b"\x00" * 5000, b"\xff" * 70000,
              b'"format": 1,', b'"points":', b'"curves":',
              b'"plumbing": "opposed",', b'"window_ms": 200,', b'"flap": 0,']
SWAPS = [(b",", b";"), (b",", b"\t"), (b".", b","), (b"\n", b"\r\n"), (b"\n", b"\r"),
         (b'"', b"'"), (b":", b"="), (b" ", b"\xc2\xa0"), (b"-", b"\xe2\x88\x92")]


def _cut(draw, data: bytes, _) -> bytes:
    return data[:draw(st.integers(0, len(data)))]


def _drop(draw, data: bytes, _) -> bytes:
    start = draw(st.integers(0, len(data)))
    return data[:start] + data[start + draw(st.integers(1, 40)):]


def _flip(draw, data: bytes, _) -> bytes:
    if not data:
        return data
    at = draw(st.integers(0, len(data) - 1))
    return data[:at] + bytes([data[at] ^ draw(st.integers(1, 255))]) + data[at + 1:]


def _splice(draw, data: bytes, seeds) -> bytes:
    other = draw(st.sampled_from(seeds))
    return data[:draw(st.integers(0, len(data)))] + other[draw(st.integers(0, len(other))):]


def _double(draw, data: bytes, _) -> bytes:
    start = draw(st.integers(0, len(data)))
    end = draw(st.integers(start, len(data)))
    return data[:end] + data[start:]


def _number(draw, data: bytes, _) -> bytes:
    """A number in the text becomes another."""
    places = [found.span() for found in re.finditer(rb"-?\d+(\.\d+)?", data)]
    if not places:
        return data
    start, end = draw(st.sampled_from(places))
    return data[:start] + draw(st.sampled_from(NUMBERS)) + data[end:]


def _insert(draw, data: bytes, _) -> bytes:
    at = draw(st.integers(0, len(data)))
    return data[:at] + draw(st.sampled_from(TEXT_PARTS)) + data[at:]


def _swap(draw, data: bytes, _) -> bytes:
    old, new = draw(st.sampled_from(SWAPS))
    return data.replace(old, new)


def _field(draw, data: bytes, _) -> bytes:
    """A binary field becomes a boundary."""
    width = draw(st.sampled_from([1, 2, 4]))
    at = draw(st.integers(0, max(0, len(data) - width)))
    most = (1 << 8 * width) - 1
    value = draw(st.sampled_from([0, 1, most, most >> 1, (most >> 1) + 1, most - 1]))
    return data[:at] + value.to_bytes(width, "little") + data[at + width:]


TEXT = (_cut, _drop, _flip, _splice, _double, _number, _number, _insert, _swap)
BINARY = (_cut, _drop, _flip, _splice, _double, _number, _field, _field)


@st.composite
def spoiled(draw, seeds: list, how: tuple) -> bytes:
    """A good input after one to five accidents."""
    data = draw(st.sampled_from(seeds))
    for accident in draw(st.lists(st.sampled_from(how), min_size=1, max_size=5)):
        data = accident(draw, data, seeds)
    return data
