"""Color arithmetic for the scripts that make the example files.

It does not know what a thread, a range or a chart is.
Standard library only; angles in degrees; Lab is CIELAB under the white of its caller.
"""

import math

# IEC 61966-2-1, linear sRGB to XYZ (D65, 2 degrees), six decimals.
SRGB_TO_XYZ = (
    (0.412456, 0.357576, 0.180438),
    (0.212673, 0.715152, 0.072175),
    (0.019334, 0.119192, 0.950304),
)
# Inverse of the above.
XYZ_TO_SRGB = (
    (3.240454, -1.537139, -0.498532),
    (-0.969266, 1.876011, 0.041556),
    (0.055643, -0.204026, 1.057225),
)
# Row sums, so that equal R, G and B give a* = b* = 0.
WHITE = tuple(sum(row) for row in SRGB_TO_XYZ)
# CIE 15: the two ends of the cube-root part of L*.
EPSILON = (6 / 29) ** 3
KAPPA = (29 / 3) ** 3

# Sharma, Wu, Dalal 2005, Table 1: pairs 1, 4, 7, 10, 16, 25 and 33.
SHARMA = (
    ((50.0, 2.6772, -79.7751), (50.0, 0.0, -82.7485), 2.0425),
    ((50.0, -1.3802, -84.2814), (50.0, 0.0, -82.7485), 1.0),
    ((50.0, 0.0, 0.0), (50.0, -1.0, 2.0), 2.3669),
    ((50.0, 2.49, -0.001), (50.0, -2.49, 0.001), 7.1792),
    ((50.0, 2.5, 0.0), (50.0, 0.0, -2.5), 4.3065),
    ((60.2574, -34.0099, 36.2677), (60.4626, -34.1751, 39.4387), 1.2644),
    ((6.7747, -0.2908, -2.4247), (5.8714, -0.0985, -2.2286), 0.6377),
)


def rgb_to_lab(rgb):
    """sRGB bytes to Lab under D65, 2 degrees."""
    linear = [_to_linear(v / 255) for v in rgb]
    xyz = [sum(m * v for m, v in zip(row, linear)) for row in SRGB_TO_XYZ]
    fx, fy, fz = (_curve(v / w) for v, w in zip(xyz, WHITE))
    return (116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz))


def lab_to_rgb(lab):
    """Lab under D65, 2 degrees to sRGB bytes, or None outside sRGB."""
    fy = (lab[0] + 16) / 116
    curved = (fy + lab[1] / 500, fy, fy - lab[2] / 200)
    xyz = [_uncurve(f) * w for f, w in zip(curved, WHITE)]
    linear = [sum(m * v for m, v in zip(row, xyz)) for row in XYZ_TO_SRGB]
    if any(v < -0.0005 or v > 1.0005 for v in linear):
        return None
    return tuple(round(255 * _from_linear(min(max(v, 0.0), 1.0))) for v in linear)


def ciede2000(one, two):
    """CIEDE2000 with kL = kC = kH = 1, after Sharma, Wu, Dalal 2005, eq. 2 to 22."""
    mean_chroma = (math.hypot(*one[1:]) + math.hypot(*two[1:])) / 2
    g = 0.5 * (1 - math.sqrt(mean_chroma**7 / (mean_chroma**7 + 25.0**7)))
    c1, h1 = _primed(one, g)
    c2, h2 = _primed(two, g)
    turn = _turn(c1, h1, c2, h2)
    d_l, d_c = two[0] - one[0], c2 - c1
    d_h = 2 * math.sqrt(c1 * c2) * math.sin(math.radians(turn / 2))
    l_bar, c_bar = (one[0] + two[0]) / 2, (c1 + c2) / 2
    h_bar = _mean_hue(c1, h1, c2, h2)
    s_l = 1 + 0.015 * (l_bar - 50) ** 2 / math.sqrt(20 + (l_bar - 50) ** 2)
    s_c = 1 + 0.045 * c_bar
    s_h = 1 + 0.015 * c_bar * _hue_weight(h_bar)
    spread = 30 * math.exp(-(((h_bar - 275) / 25) ** 2))
    r_c = 2 * math.sqrt(c_bar**7 / (c_bar**7 + 25.0**7))
    r_t = -math.sin(math.radians(2 * spread)) * r_c
    x, y, z = d_l / s_l, d_c / s_c, d_h / s_h
    return math.sqrt(x * x + y * y + z * z + r_t * y * z)


def check_ciede2000():
    """Stops the program when the formula misses one of the published pairs."""
    for one, two, published in SHARMA:
        for left, right in ((one, two), (two, one)):
            found = ciede2000(left, right)
            if abs(found - published) > 1e-4:
                raise SystemExit(f"CIEDE2000 of {left} and {right}: {found}, not {published}")


def _to_linear(v):
    return v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4


def _from_linear(v):
    return 12.92 * v if v <= 0.0031308 else 1.055 * v ** (1 / 2.4) - 0.055


def _curve(t):
    return t ** (1 / 3) if t > EPSILON else (KAPPA * t + 16) / 116


def _uncurve(f):
    return f**3 if f**3 > EPSILON else (116 * f - 16) / KAPPA


def _primed(lab, g):
    a = (1 + g) * lab[1]
    hue = math.degrees(math.atan2(lab[2], a)) % 360 if a or lab[2] else 0.0
    return math.hypot(a, lab[2]), hue


def _turn(c1, h1, c2, h2):
    if c1 * c2 == 0:
        return 0.0
    turn = h2 - h1
    if turn > 180:
        return turn - 360
    return turn + 360 if turn < -180 else turn


def _mean_hue(c1, h1, c2, h2):
    if c1 * c2 == 0:
        return h1 + h2
    if abs(h1 - h2) <= 180:
        return (h1 + h2) / 2
    return (h1 + h2 + 360) / 2 if h1 + h2 < 360 else (h1 + h2 - 360) / 2


def _hue_weight(h):
    return (
        1
        - 0.17 * math.cos(math.radians(h - 30))
        + 0.24 * math.cos(math.radians(2 * h))
        + 0.32 * math.cos(math.radians(3 * h + 6))
        - 0.20 * math.cos(math.radians(4 * h - 63))
    )
