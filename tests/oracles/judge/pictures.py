"""Small pictures for proofs: a PNG of one colour, and its BLAKE3, which is how a picture is named."""

import struct
import zlib
from functools import lru_cache

IV = (0x6A09E667, 0xBB67AE85, 0x3C6EF372, 0xA54FF53A, 0x510E527F, 0x9B05688C, 0x1F83D9AB, 0x5BE0CD19)
ORDER = (2, 6, 3, 10, 7, 0, 4, 13, 1, 11, 12, 5, 9, 14, 15, 8)
MASK = 0xFFFFFFFF
CHUNK_START, CHUNK_END, ROOT = 1, 2, 8


def readable(name):
    """Pictures of the days are called `p<number>.png`; `torn<number>.png` is no readable one, `gone<number>.png` is not there."""
    return name.startswith("p")


def there(name):
    return not name.startswith("gone")


@lru_cache(maxsize=None)
def content(name):
    """The bytes of a picture, made from its number alone; `p3.png` and `p3-copy.png` are equal."""
    number = int("".join(c for c in name.split("-")[0] if c.isdigit()))
    if name.startswith("torn"):
        return b"\x89PNG\r\n\x1a\n" + bytes([number % 256]) * 40
    side = 8
    row = b"\0" + bytes([number * 37 % 256, number * 91 % 256, number % 256]) * side
    header = struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0)
    return (b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(row * side, 9))
            + chunk(b"IEND", b""))


def chunk(kind, data):
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


@lru_cache(maxsize=None)
def digest(name):
    """`blake3:…` of a picture's bytes."""
    return "blake3:" + blake3(content(name)).hex()


def blake3(data):
    """BLAKE3 of at most one chunk (1024 bytes), which a test picture never exceeds."""
    assert len(data) <= 1024
    blocks = [data[i:i + 64] for i in range(0, len(data), 64)] or [b""]
    value = IV
    for n, block in enumerate(blocks):
        flags = (CHUNK_START if n == 0 else 0) | (CHUNK_END | ROOT if n == len(blocks) - 1 else 0)
        value = compress(value, block, flags)
    return struct.pack("<8I", *value)


def compress(value, block, flags):
    words = list(struct.unpack("<16I", block.ljust(64, b"\0")))
    v = [*value, *IV[:4], 0, 0, len(block), flags]
    for _ in range(7):
        for i, (a, b, c, d) in enumerate(((0, 4, 8, 12), (1, 5, 9, 13), (2, 6, 10, 14), (3, 7, 11, 15),
                                          (0, 5, 10, 15), (1, 6, 11, 12), (2, 7, 8, 13), (3, 4, 9, 14))):
            mix(v, a, b, c, d, words[2 * i], words[2 * i + 1])
        words = [words[i] for i in ORDER]
    return tuple(v[i] ^ v[i + 8] for i in range(8))


def mix(v, a, b, c, d, x, y):
    for word, left, right in ((x, 16, 12), (y, 8, 7)):
        v[a] = (v[a] + v[b] + word) & MASK
        v[d] = turn(v[d] ^ v[a], left)
        v[c] = (v[c] + v[d]) & MASK
        v[b] = turn(v[b] ^ v[c], right)


def turn(x, n):
    return (x >> n | x << (32 - n)) & MASK
