"""Columns of numbers, packed into text for the page, without loss.

Whole numbers, 32 bits; differences from row to row, zigzag-coded (0, -1, 1, -2 ... to 0, 1, 2,
3 ...), the four bytes of all rows one plane after another, deflate with a zlib head, base64. The
page's `unpack` turns it back. A number that is not known is NOTHING.
"""

import base64
import zlib

import numpy as np

NOTHING = -0x80000000


def whole(values: np.ndarray, scale: float) -> np.ndarray:
    """Numbers times a scale as whole numbers, NOTHING for NaN."""
    there = np.isfinite(values)
    return np.where(there, np.rint(np.where(there, values, 0) * scale), NOTHING).astype(np.int64)


def pack(values: np.ndarray) -> str:
    """One column of whole numbers within 32 bits, signed."""
    numbers = np.asarray(values, np.int64)
    steps = numbers - np.r_[np.int64(0), numbers[:-1]]
    steps = ((steps + 0x80000000) & 0xFFFFFFFF) - 0x80000000  # modulo 2^32, as the page adds up
    zigzag = ((steps << 1) ^ (steps >> 63)) & 0xFFFFFFFF
    planes = zigzag.astype("<u4").view(np.uint8).reshape(-1, 4).T
    return base64.b64encode(zlib.compress(planes.tobytes(), 6)).decode("ascii")
