#!/usr/bin/env python3
"""Puts two charts side by side, enlarged, as one picture: what a reduction did.

usage: demo/picture.py BEFORE.png AFTER.png OUT.png [SCALE]

It reads the 8-bit pictures that this project writes (RGB, RGBA, palette) and shows bare cloth as
linen. Python's standard library only.
"""

import os
import struct
import sys
import zlib

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "data"))
import png  # noqa: E402

CLOTH = (246, 239, 226, 255)
GAP = 4


def chunks(data):
    place = 8
    while place < len(data):
        length, kind = struct.unpack(">I4s", data[place : place + 8])
        yield kind, data[place + 8 : place + 8 + length]
        place += 12 + length


def unfilter(lines, width, step):
    """The rows of bytes behind the five filters of ISO/IEC 15948, section 9."""
    size = width * step
    before = bytearray(size)
    for start in range(0, len(lines), size + 1):
        kind, row = lines[start], bytearray(lines[start + 1 : start + 1 + size])
        for i in range(size):
            left = row[i - step] if i >= step else 0
            up, corner = before[i], before[i - step] if i >= step else 0
            if kind == 4:
                guess = left + up - corner
                near = min((abs(guess - left), 0, left), (abs(guess - up), 1, up), (abs(guess - corner), 2, corner))
                row[i] = row[i] + near[2] & 255
            else:
                row[i] = row[i] + (0, left, up, (left + up) // 2)[kind] & 255
        yield bytes(row)
        before = row


def read(path):
    with open(path, "rb") as file:
        parts = list(chunks(file.read()))
    found = dict(parts)
    width, _, depth, kind, _, _, interlaced = struct.unpack(">IIBBBBB", found[b"IHDR"])
    if depth != 8 or interlaced or kind not in (2, 3, 6):
        sys.exit(f"{path}: not an 8-bit picture of the kinds that dyekin writes")
    step = {2: 3, 3: 1, 6: 4}[kind]
    lines = zlib.decompress(b"".join(body for name, body in parts if name == b"IDAT"))
    clear = found.get(b"tRNS", b"")

    def pixel(bits):
        if kind == 3:
            entry = bits[0]
            alpha = clear[entry] if entry < len(clear) else 255
            bits = found[b"PLTE"][3 * entry : 3 * entry + 3] + bytes([alpha])
        return tuple(bits[:3]) + (255,) if len(bits) == 3 or bits[3] else CLOTH

    return [
        [pixel(row[i : i + step]) for i in range(0, len(row), step)]
        for row in unfilter(lines, width, step)
    ]


def enlarge(rows, scale):
    for row in rows:
        wide = [pixel for pixel in row for _ in range(scale)]
        for _ in range(scale):
            yield wide


def main(before, after, out, scale="3"):
    one, two = read(before), read(after)
    gap = [CLOTH] * GAP
    rows = [left + gap + right for left, right in zip(one, two)]
    with open(out, "wb") as file:
        file.write(png.rgba(list(enlarge(rows, int(scale)))))


if __name__ == "__main__":
    main(*sys.argv[1:])
