"""Small proof pictures: the inside of a trailer as drawn by a few lines of arithmetic, as grey PNG.

No two trailers look alike: `seed` says where the camera looks from, how the light falls and how far apart the posts stand.
"""

import struct
import zlib

WIDTH, HEIGHT = 48, 32


def proof_picture(seed):
    """PNG bytes of a front wall seen along two side walls."""
    parts = []
    for choices in (7, 5, 24, 16, 5):
        parts.append(seed % choices)
        seed //= choices
    rows = bytearray()
    for y in range(HEIGHT):
        rows.append(0)
        rows.extend(_shade(x, y, parts) for x in range(WIDTH))
    header = struct.pack(">IIBBBBB", WIDTH, HEIGHT, 8, 0, 0, 0, 0)
    data = zlib.compress(bytes(rows), 9)
    return b"\x89PNG\r\n\x1a\n" + _chunk(b"IHDR", header) + _chunk(b"IDAT", data) + _chunk(b"IEND", b"")


def _shade(x, y, parts):
    aside, high, light, dark, posts = parts
    across, down = abs(x - WIDTH // 2 - aside + 3) * 4, abs(y - HEIGHT // 2 - high + 2) * 6
    depth = max(across, down)
    if depth < 30:
        return 190 - light - depth // 2
    post = 25 if across >= down and (depth * depth // 40) % (posts + 5) == 0 else 0
    return max(30, 170 - depth - post + dark)


def _chunk(name, data):
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
