"""Paints flat shapes in named colors and turns them into a grid of stitches.

It does not know what is drawn, nor what a color name looks like.
Lengths are in stitches; every stitch is painted as FINE x FINE points.
"""

import math

FINE = 4


class Canvas:
    """A sheet of color names; None is bare cloth."""

    def __init__(self, width, height):
        self.width, self.height = width, height
        self.rows = [[None] * (width * FINE) for _ in range(height * FINE)]

    def fill(self, shapes, color, inside=None):
        """Fills polygons with a color name, or with what `color(x, y)` answers."""
        allowed = None if inside is None else self.mask(inside)
        for row, start, end in self._spans(shapes):
            line = self.rows[row]
            for column in range(start, end):
                if allowed is not None and not allowed[row][column]:
                    continue
                if callable(color):
                    line[column] = color((column + 0.5) / FINE, (row + 0.5) / FINE)
                else:
                    line[column] = color

    def line(self, points, width, color, inside=None):
        """Draws an open line with round ends."""
        self.fill(stroke(points, width), color, inside)

    def outline(self, shape, width, color, inside=None):
        """Draws a line around a polygon."""
        self.line([*shape, shape[0]], width, color, inside)

    def mask(self, shapes):
        """Which points the polygons cover."""
        covered = [bytearray(self.width * FINE) for _ in range(self.height * FINE)]
        for row, start, end in self._spans(shapes):
            covered[row][start:end] = b"\1" * max(0, end - start)
        return covered

    def stitches(self):
        """For each stitch, its colors with their shares of FINE x FINE, largest first."""
        return [
            [self._shares(x * FINE, y * FINE) for x in range(self.width)]
            for y in range(self.height)
        ]

    def _shares(self, left, top):
        counts = {}
        for row in self.rows[top : top + FINE]:
            for name in row[left : left + FINE]:
                counts[name] = counts.get(name, 0) + 1
        return sorted(counts.items(), key=lambda item: (-item[1], str(item[0])))

    def _spans(self, shapes):
        for shape in shapes:
            ys = [y for _, y in shape]
            first = max(0, math.floor(min(ys) * FINE))
            last = min(self.height * FINE - 1, math.ceil(max(ys) * FINE))
            for row in range(first, last + 1):
                for start, end in crossings(shape, (row + 0.5) / FINE):
                    left = max(0, math.ceil(start * FINE - 0.5))
                    right = min(self.width * FINE, math.ceil(end * FINE - 0.5))
                    if left < right:
                        yield row, left, right


def crossings(shape, y):
    """Pairs of x between which a level line runs inside the polygon."""
    xs = []
    for (x0, y0), (x1, y1) in zip(shape, [*shape[1:], shape[0]]):
        if (y0 <= y) != (y1 <= y):
            xs.append(x0 + (y - y0) * (x1 - x0) / (y1 - y0))
    xs.sort()
    return zip(xs[::2], xs[1::2])


def ellipse(x, y, rx, ry=None, turn=0.0):
    """A polygon close to an ellipse; `turn` in degrees."""
    ry = rx if ry is None else ry
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    points = []
    for step in range(48):
        u = rx * math.cos(step * math.tau / 48)
        v = ry * math.sin(step * math.tau / 48)
        points.append((x + u * cos - v * sin, y + u * sin + v * cos))
    return points


def box(left, top, right, bottom):
    return [(left, top), (right, top), (right, bottom), (left, bottom)]


def smooth(points, closed=True, steps=8):
    """A soft line through the points (Catmull-Rom)."""
    count, out = len(points), []
    for i in range(count if closed else count - 1):
        around = [i - 1, i, i + 1, i + 2]
        if closed:
            p0, p1, p2, p3 = (points[k % count] for k in around)
        else:
            p0, p1, p2, p3 = (points[min(max(k, 0), count - 1)] for k in around)
        for step in range(steps):
            t = step / steps
            out.append(tuple(_between(t, *values) for values in zip(p0, p1, p2, p3)))
    return out if closed else [*out, points[-1]]


def stroke(points, width):
    """Polygons that cover a line of the given width."""
    half = width / 2
    shapes = [ellipse(*points[0], half)]
    for (x0, y0), (x1, y1) in zip(points, points[1:]):
        length = math.hypot(x1 - x0, y1 - y0)
        if length:
            u, v = (y0 - y1) / length * half, (x1 - x0) / length * half
            shapes.append([(x0 + u, y0 + v), (x1 + u, y1 + v), (x1 - u, y1 - v), (x0 - u, y0 - v)])
        shapes.append(ellipse(x1, y1, half))
    return shapes


def _between(t, p0, p1, p2, p3):
    return 0.5 * (
        2 * p1
        + (p2 - p0) * t
        + (2 * p0 - 5 * p1 + 4 * p2 - p3) * t * t
        + (3 * p1 - p0 - 3 * p2 + p3) * t * t * t
    )
