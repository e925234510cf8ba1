"""Draws "The last ferry home": an otter takes a hedgehog across the harbor at dusk.

It does not know how the drawing becomes a chart.
Coordinates are stitches, x to the right and y down, on a sheet of WIDTH x HEIGHT.
"""

import math

from drawing import crew, letters, shore
from drawing.colors import SKY_BANDS, WATER_BANDS
from drawing.painter import Canvas, box, ellipse, smooth

WIDTH, HEIGHT = 210, 160
HORIZON = 92
SKY = [f"sky{i}" for i in range(SKY_BANDS)]
WATER = [f"water{i}" for i in range(WATER_BANDS)]
MOON = (62, 47)


def draw():
    """The painted sheet."""
    sheet = Canvas(WIDTH, HEIGHT)
    window = [arch(9)]
    sky(sheet, window)
    moon(sheet, window)
    clouds(sheet, window)
    shore.hills(sheet, window)
    shore.town(sheet, window)
    water(sheet, window)
    reflections(sheet, window)
    shore.lantern_string(sheet, window)
    crew.boat_and_crew(sheet)
    ripples(sheet, window)
    frame(sheet)
    shore.reeds(sheet)
    ribbon(sheet)
    return sheet


def touch_up(put):
    """What is set stitch by stitch, after the shapes; `put(x, y, color)`."""
    stars(put)
    crew.touch_up(put)
    shore.touch_up(put)
    text = "THE LAST FERRY HOME"
    left = (WIDTH - letters.width(text, letters.TALL)) // 2
    for x, y in letters.cells(text, letters.TALL, left, 140):
        put(x, y, "lettering")


def arch(inset):
    """The window of the picture: straight sides, a wide round top."""
    left, right, bottom = inset, WIDTH - inset, 142 - inset
    points, radius, drop = [], 70, 62
    for step in range(25):
        angle = math.pi + step * math.pi / 48
        points.append((left + radius + radius * math.cos(angle),
            inset - 3 + drop + drop * math.sin(angle)))
    for step in range(25):
        angle = -math.pi / 2 + step * math.pi / 48
        points.append((right - radius + radius * math.cos(angle),
            inset - 3 + drop + drop * math.sin(angle)))
    return [*points, (right, bottom), (left, bottom)]


def sky_step(x, y):
    """The band of the sky at a place: by height, waved, brighter around the moon."""
    place = (SKY_BANDS - 0.4) * (max(0.0, y - 4) / (HORIZON - 6)) ** 0.92
    place += 0.35 * math.sin(x / 23 + 0.6) + 0.2 * math.sin(x / 9 + y / 14)
    away = math.hypot(x - MOON[0], y - MOON[1])
    place += 1.6 * (away < 25) + 1.2 * (away < 32) + 0.8 * (away < 41)
    return min(SKY_BANDS - 1, max(0, int(place)))


def sky(sheet, window):
    sheet.fill(window, lambda x, y: SKY[sky_step(x, y)])


def moon(sheet, window):
    x, y = MOON
    disc = [ellipse(x, y, 19)]
    sheet.fill(disc, "moon_rim", window)
    sheet.fill([ellipse(x - 1.5, y - 1.5, 17)], "moon", disc)
    sheet.fill([ellipse(x - 4, y - 4, 12.5)], "moon_core", disc)
    for dx, dy, r in ((6, -7, 4.2), (-8, 4, 3.2), (5, 8, 5), (-3, -10, 2.2), (11, 3, 2.4),
            (-2, 12, 2.4)):
        sheet.fill([ellipse(x + dx, y + dy, r, r * 0.9)], "moon_sea", disc)
        sheet.fill([ellipse(x + dx + 0.8, y + dy + 0.8, r * 0.7, r * 0.6)], "moon_rim", disc)


def clouds(sheet, window):
    for x, y, length, tall in (
        (92, 30, 26, 3.0), (72, 63, 30, 3.2), (150, 66, 26, 2.8), (168, 40, 20, 3.0),
        (34, 72, 20, 2.4), (112, 78, 24, 2.4), (118, 20, 16, 2.0),
    ):
        low = y > 55
        body, lit = ("cloud_rose", "cloud_peach") if low else ("cloud_violet", "cloud_mauve")
        puffs = [ellipse(x, y, length, tall),
            ellipse(x - length * 0.3, y - tall * 0.8, length * 0.34, tall)]
        puffs.append(ellipse(x + length * 0.25, y - tall * 0.9, length * 0.26, tall * 1.1))
        sheet.fill(puffs, body, window)
        sheet.fill([ellipse(x - 2, y + tall * 0.45, length * 0.8, tall * 0.5)], lit, puffs)


def water(sheet, window):
    def step(x, y):
        place = WATER_BANDS * ((y - HORIZON - 6) / 42) ** 0.8 + 0.5 * math.sin(x / 13 + y * 1.3)
        return WATER[min(WATER_BANDS - 1, max(0, int(place)))]

    sheet.fill([box(0, HORIZON + 7, WIDTH, HEIGHT)], step, window)
    for row, (y, first) in enumerate(((103, 20), (107, 6), (112, 30), (118, 12), (124, 24),
            (130, 4))):
        for x in range(first, WIDTH, 37):
            color = WATER[min(WATER_BANDS - 1, row + 1)] if (x + row) % 2 else WATER[max(0,
                row - 1)]
            sheet.fill([ellipse(x, y, 7 + row % 3 * 2, 0.8)], color, window)


def reflections(sheet, window):
    for row, y in enumerate(range(101, 134, 3)):
        reach = 8.5 - row * 0.25 + 1.5 * (row % 3)
        shift = (-2, 1, 3, -1)[row % 4]
        color = ("moon_path", "moon_path", "moon_glint")[row % 3]
        sheet.fill([ellipse(MOON[0] - 33 + shift, y, reach * 0.75, 0.85)], color, window)
    for x in (170, 182, 193):
        for row, y in enumerate(range(101, 113, 3)):
            sheet.fill([ellipse(x + (row % 2) * 2 - 1, y, 3.2 - row * 0.4, 0.7)], "window_path",
                window)


def ripples(sheet, window):
    for x, y, length, color in (
        (36, 126, 16, "foam"), (78, 129.5, 26, "foam"), (132, 129.8, 22, "foam"),
            (176, 125.5, 14, "foam"),
        (56, 131.5, 13, "foam_dim"), (107, 132, 14, "foam_dim"), (160, 131, 13, "foam_dim"),
    ):
        sheet.fill([ellipse(x, y, length * 0.5, 0.75)], color, window)


def frame(sheet):
    """A brass band around the window; the sheet outside stays bare."""
    sheet.outline(arch(7.2), 5.4, "frame_ink")
    sheet.outline(arch(7.2), 3.2, "brass")
    sheet.outline(arch(8.1), 1.0, "brass_dim")


def ribbon(sheet):
    for mirrored in (False, True):
        def at(points):
            return [(WIDTH - x if mirrored else x, y) for x, y in points]

        tail = at([(46, 142), (22, 140), (28, 147.5), (21, 156), (50, 157)])
        sheet.fill([tail], "ribbon_back")
        sheet.fill([at([(38, 141), (50, 141), (50, 157), (38, 157)])], "ribbon_turn", [tail])
        sheet.outline(tail, 1.4, "ribbon_ink")
        fold = at([(38, 153), (50, 157), (50, 151)])
        sheet.fill([fold], "ribbon_fold")
        sheet.outline(fold, 1.4, "ribbon_ink")
    upper = smooth([(38, 138), (70, 136), (105, 135.4), (140, 136), (172, 138)], closed=False)
    lower = smooth([(172, 154), (140, 151.6), (105, 151), (70, 151.6), (38, 154)], closed=False)
    band = upper + lower
    sheet.fill([band], "ribbon")
    shadow = [(x, y - 2.4) for x, y in lower] + lower[::-1]
    sheet.fill([shadow], "ribbon_shade", [band])
    sheet.outline(band, 1.5, "ribbon_ink")


def stars(put):
    for x, y in ((98, 14), (122, 30), (140, 18), (161, 27), (84, 20), (50, 22), (104, 52),
            (30, 62)):
        put(x, y, "star")
    for x, y in ((112, 13), (158, 50), (96, 58)):
        put(x, y, "star")
        for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1)):
            put(x + dx, y + dy, "star_dim")
