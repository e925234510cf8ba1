"""Ten thousand random pairs a formula: the server's differences against two public color libraries.

Reference: colour-science (BSD-3-Clause) for all formulas it knows, to the larger of 1e-9 absolute and
1e-9 relative; coloraide (MIT) for DIN99o to 2e-4, since it rounds one constant of DIN 6176. Pairs of
opposite hue are left out: there CIEDE2000 jumps, and one unit in the last place of an angle decides.
"""

import random
import sys
import tempfile
import warnings

# It says which of its optional parts are missing; none of them is used.
warnings.filterwarnings("ignore", module="colour")

import colour  # noqa: E402
import grpc  # noqa: E402
import numpy as np  # noqa: E402
from coloraide.everything import ColorAll as Color  # noqa: E402
from smoke import Client, Server, server_binary  # noqa: E402

PAIRS = 10_000
BATCH = 1_000
SEED = 6176
# Hue angles this near to opposite, in degrees, are left out.
OPPOSITE = 0.01


def reference_99o(standards, samples):
    differences = []
    for one, other in zip(standards, samples):
        first = Color("lab-d65", [float(part) for part in one])
        second = Color("lab-d65", [float(part) for part in other])
        differences.append(first.delta_e(second, method="99o"))
    return np.array(differences)


def library(name, **parameters):
    return lambda standards, samples: colour.delta_E(standards, samples, method=name, **parameters)


FORMULAS = [
    # name, formula on the wire, reference, tolerance (absolute and relative)
    ("CIEDE2000 1:1:1", {"kind": "FORMULA_KIND_CIEDE2000"}, library("CIE 2000"), 1e-9),
    (
        "CIEDE2000 2:1:1",
        {"kind": "FORMULA_KIND_CIEDE2000", "lightness_factor": 2.0},
        library("CIE 2000", textiles=True),
        1e-9,
    ),
    ("CIE76", {"kind": "FORMULA_KIND_CIE76"}, library("CIE 1976"), 1e-9),
    (
        "CMC 2:1",
        {"kind": "FORMULA_KIND_CMC", "lightness_factor": 2.0, "chroma_factor": 1.0},
        library("CMC", l=2, c=1),
        1e-9,
    ),
    (
        "CMC 1:1",
        {"kind": "FORMULA_KIND_CMC", "lightness_factor": 1.0, "chroma_factor": 1.0},
        library("CMC", l=1, c=1),
        1e-9,
    ),
    (
        "CIE94 graphic arts",
        {"kind": "FORMULA_KIND_CIE94_GRAPHIC_ARTS"},
        library("CIE 1994", textiles=False),
        1e-9,
    ),
    (
        "CIE94 textile",
        {"kind": "FORMULA_KIND_CIE94_TEXTILE"},
        library("CIE 1994", textiles=True),
        1e-9,
    ),
    ("HyAB", {"kind": "FORMULA_KIND_HYAB"}, library("HyAB"), 1e-9),
    ("DIN99o", {"kind": "FORMULA_KIND_DIN99O"}, reference_99o, 2e-4),
]


def random_pairs():
    """Half of the samples lie anywhere, half near their standard, as people ask."""
    draw = random.Random(SEED)
    pairs = []
    while len(pairs) < PAIRS:
        standard = [draw.uniform(0, 100), draw.uniform(-90, 90), draw.uniform(-90, 90)]
        if len(pairs) % 2:
            sample = [draw.uniform(0, 100), draw.uniform(-90, 90), draw.uniform(-90, 90)]
        else:
            sample = [part + draw.gauss(0, 3) for part in standard]
            sample[0] = min(max(sample[0], 0.0), 100.0)
        hues = [np.degrees(np.arctan2(color[2], color[1])) for color in (standard, sample)]
        if abs(abs(hues[0] - hues[1]) % 360 - 180) > OPPOSITE:
            pairs.append((standard, sample))
    return pairs


def on_the_wire(lab):
    return {
        "lab": dict(zip("lab", lab)),
        "conditions": {"illuminant": "ILLUMINANT_D65", "observer": "OBSERVER_TEN_DEGREE"},
        "origin": "ORIGIN_METER",
    }


def ask(client, pairs, formula):
    differences = []
    for start in range(0, len(pairs), BATCH):
        request = {
            "pairs": [
                {"standard": on_the_wire(standard), "sample": on_the_wire(sample)}
                for standard, sample in pairs[start : start + BATCH]
            ],
            "formula": formula,
        }
        answer = client.call("MatchingService", "CompareColors", request)
        differences += [one["difference"].get("delta_e", 0.0) for one in answer["comparisons"]]
    return np.array(differences)


def main():
    pairs = random_pairs()
    standards = np.array([standard for standard, _ in pairs])
    samples = np.array([sample for _, sample in pairs])
    wrong = 0
    with tempfile.TemporaryDirectory() as folder:
        server = Server(server_binary(), folder)
        try:
            with grpc.insecure_channel(server.address()) as channel:
                client = Client(channel)
                for name, formula, reference, tolerance in FORMULAS:
                    ours, theirs = ask(client, pairs, formula), reference(standards, samples)
                    off = np.abs(ours - theirs)
                    allowed = np.maximum(tolerance, tolerance * np.abs(theirs))
                    bad = int(np.sum(off > allowed))
                    wrong += bad > 0
                    print(f"{name}: {len(pairs)} pairs, {bad} off, worst {off.max():.1e}")
        finally:
            server.stop()
    print(f"{len(FORMULAS) - wrong} passed, {wrong} failed")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
