"""Three small proof pictures: the inside of a trailer as drawn by a few lines of arithmetic, as grey PNG."""

import struct
import zlib

WIDTH, HEIGHT = 96, 64


def proof_picture(seed):
    """PNG bytes of a front wall seen along two side walls; `seed` moves the light a little."""
    rows = bytearray()
    for y in range(HEIGHT):
        rows.append(0)
        rows.extend(_shade(x, y, seed) for x in range(WIDTH))
    header = struct.pack(">IIBBBBB", WIDTH, HEIGHT, 8, 0, 0, 0, 0)
    data = zlib.compress(bytes(rows), 9)
    return b"\x89PNG\r\n\x1a\n" + _chunk(b"IHDR", header) + _chunk(b"IDAT", data) + _chunk(b"IEND", b"")


def _shade(x, y, seed):
    across, down = abs(x - WIDTH // 2) * 2, abs(y - HEIGHT // 2) * 3
    depth = max(across, down)
    if depth < 30:
        return 190 - seed % 20 - depth // 2
    post = 25 if across >= down and (depth * depth // 40) % 7 == 0 else 0
    return max(30, 170 - depth - post + seed % 11)


def _chunk(name, data):
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
