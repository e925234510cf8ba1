"""The numbers behind spectra, computed by the PyPI package colour-science 0.4.7.

    python tests/python/spectra.py weights > server/core/src/spectrum/weights.rs
    python tests/python/spectra.py fine    > server/core/src/spectrum/fine.rs
    python tests/python/spectra.py spectra > tests/data/reference/spectra.csv
    python tests/python/spectra.py lab     > tests/data/reference/spectra_to_lab.csv

`weights` and `fine` write the tables that the product uses, the other two an outside check of them.
"""

import sys
import warnings

import numpy as np

warnings.filterwarnings("ignore")

import colour  # noqa: E402
from colour.colorimetry import tristimulus_weighting_factors_ASTME2022  # noqa: E402

LIGHTS = ["A", "D50", "D65", "FL2", "FL11", "LED-B3"]
OBSERVERS = {2: "CIE 1931 2 Degree Standard Observer", 10: "CIE 1964 10 Degree Standard Observer"}

HEAD = """//! Tristimulus weights for reflectance from 360 to 780 nm at 10 nm, one table a light and observer.
//! It does not know reflectances. Written by `tests/python/spectra.py`, not by hand.
//!
//! Source: computed by ASTM E2022 (Lagrange interpolation, no bandpass correction) with
//! colour-science 0.4.7 from the CIE color-matching functions at 1 nm and the illuminants of
//! CIE 15:2018. The weights of Y sum to 100 over the range.
//! Each band has weights of X, Y and Z; the first band is 360 nm.
"""

FINE_HEAD = """//! Tristimulus weights for reflectance from 360 to 780 nm at 5 nm, one table a light and observer.
//! It does not know reflectances. Written by `tests/python/spectra.py`, not by hand.
//!
//! Source: products of the CIE color-matching functions and the illuminants of CIE 15:2018 at 5 nm,
//! which is what ASTM E308 does at this step, from the tables of colour-science 0.4.7. The weights
//! of Y sum to 100 over the range.
//! Each band has weights of X, Y and Z; the first band is 360 nm.
"""


def aligned(light, degrees):
    """Observer and light at 1 nm over the range of the tables."""
    shape = colour.SpectralShape(360, 780, 1)
    observer = colour.MSDS_CMFS[OBSERVERS[degrees]].copy().align(shape)
    return observer, colour.SDS_ILLUMINANTS[light].copy().align(shape)


def weights():
    """The Rust file of the tables at 10 nm."""

    def table(light, degrees):
        observer, source = aligned(light, degrees)
        shape = colour.SpectralShape(360, 780, 10)
        return tristimulus_weighting_factors_ASTME2022(observer, source, shape)

    write_tables(HEAD, table, 1)


def fine():
    """The Rust file of the tables at 5 nm."""

    def table(light, degrees):
        shape = colour.SpectralShape(360, 780, 5)
        observer, source = (held.align(shape).values for held in aligned(light, degrees))
        products = observer * source[:, None]
        return 100 * products / products[:, 1].sum()

    write_tables(FINE_HEAD, table, 2)


def write_tables(head, table, columns):
    """A Rust file with one constant a light and observer, so many bands a line."""
    print(head, end="")
    for light in LIGHTS:
        for degrees in OBSERVERS:
            bands = [
                "[" + ", ".join(grouped(value) for value in band) + "]"
                for band in table(light, degrees)
            ]
            name = f"{light.replace('-', '_')}_{degrees}"
            print(f"\n/// {light}, {degrees}°.")
            print("#[rustfmt::skip]")
            print(f"pub(super) const {name}: [[f64; 3]; {len(bands)}] = [")
            for start in range(0, len(bands), columns):
                print("    " + ", ".join(bands[start : start + columns]) + ",")
            print("];")


def grouped(value):
    """Six decimals with the separator that Rust sources use."""
    whole, part = f"{value + 0.0:.6f}".replace("-0.000000", "0.000000").split(".")
    return f"{whole}.{part[:3]}_{part[3:]}"


def invented(wavelength):
    """Reflectances of no real product: edges, bands and slopes."""

    def edge(middle, width):
        return 1 / (1 + np.exp(-(wavelength - middle) / width))

    def band(middle, width):
        return np.exp(-(((wavelength - middle) / width) ** 2))

    return {
        "white": np.ones_like(wavelength),
        "gray": np.full_like(wavelength, 0.18),
        "brick": 0.04 + 0.55 * edge(602, 9),
        "gorse": 0.05 + 0.62 * edge(508, 12),
        "sloe": 0.03 + 0.13 * band(450, 30) + 0.4 * edge(715, 14),
        "fern": 0.045 + 0.21 * band(532, 34) + 0.3 * edge(708, 11),
        "heather": 0.08 + 0.3 * band(425, 40) + 0.35 * edge(640, 20),
        "linen": 0.38 + 0.4 * (wavelength - 360) / 420,
    }


# Start, end and step of what instruments deliver.
RANGES = [(400, 700, 10), (360, 780, 10), (380, 780, 10), (380, 780, 5), (360, 740, 10), (400, 700, 20)]


def spectra():
    """All invented reflectances at 5 nm."""
    wavelength = np.arange(360.0, 781.0, 5.0)
    print("# Reflectance factors of no real product, 360 to 780 nm at 5 nm: sums of edges and bands.")
    print("name," + ",".join(f"{at:.0f}" for at in wavelength))
    for name, values in invented(wavelength).items():
        print(name + "," + ",".join(f"{value:.6f}" for value in values))


def lab():
    """CIELAB of each at each light, observer, range and step."""
    print("# CIELAB of spectra.csv cut to a range and step, by the ASTM E308 routine of colour-science")
    print("# 0.4.7 with its defaults; white: the same routine on the perfect diffuser.")
    print("name,illuminant,observer,start,end,step,L,a,b")
    fine = np.arange(360.0, 781.0, 5.0)
    for name, values in invented(fine).items():
        for light in LIGHTS:
            for degrees in OBSERVERS:
                for start, end, step in RANGES:
                    at = np.arange(start, end + 1, step)
                    row = [name, light, degrees, start, end, step]
                    values = np.round(values, 6)
                    found = lab_of(dict(zip(fine, values)), at, light, degrees)
                    print(",".join(map(str, row)) + "," + ",".join(f"{v:.6f}" for v in found))


def lab_of(values, at, light, degrees):
    """CIELAB by the routine of the package."""

    def xyz(held):
        curve = colour.SpectralDistribution({wavelength: held[wavelength] for wavelength in at})
        observer, source = aligned(light, degrees)
        return np.asarray(
            colour.sd_to_XYZ(curve, observer, source, method="ASTM E308"), dtype=float
        )

    color, white = xyz(values), xyz({wavelength: 1.0 for wavelength in at})
    ratio = color / white
    f = np.where(ratio > 216 / 24389, np.cbrt(ratio), (24389 / 27 * ratio + 16) / 116)
    return 116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])


if __name__ == "__main__":
    {"weights": weights, "fine": fine, "spectra": spectra, "lab": lab}[sys.argv[1]]()
