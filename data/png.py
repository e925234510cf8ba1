"""Writes 8-bit RGBA pictures as PNG.

It does not know what the pixels show. ISO/IEC 15948; standard library only.
"""

import struct
import zlib


def rgba(rows):
    """The bytes of a PNG file; `rows` are equally long lists of (r, g, b, a) bytes."""
    width, height = len(rows[0]), len(rows)
    header = struct.pack(">IIBBBBB", width, height, 8, 6, 0, 0, 0)
    lines = b"".join(b"\0" + bytes(v for pixel in row for v in pixel) for row in rows)
    return (
        b"\x89PNG\r\n\x1a\n"
        + _chunk(b"IHDR", header)
        + _chunk(b"sRGB", b"\0")
        + _chunk(b"IDAT", zlib.compress(lines, 9))
        + _chunk(b"IEND", b"")
    )


def pixels(data):
    """The pixel lines, before compression, of a file that `rgba` wrote."""
    place = data.index(b"IDAT")
    (length,) = struct.unpack(">I", data[place - 4 : place])
    return zlib.decompress(data[place + 4 : place + 4 + length])


def same(one, two):
    """Whether both files show the same picture; zlib versions may pack it differently."""
    try:
        return one[:33] == two[:33] and pixels(one) == pixels(two)
    except (ValueError, struct.error, zlib.error):
        return False


def _chunk(kind, body):
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
