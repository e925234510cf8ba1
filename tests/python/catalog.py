#!/usr/bin/env python3
"""A catalog of charts of 150 x 150 stitches, and how long `dyekin check` takes for all of them.

usage: catalog.py DYEKIN TABLE FOLDER [COUNT]      draws COUNT (1,000) charts unless they are there

Of every four charts one is a picture with hard edges, one a picture whose edges are blended, one a
grid of codes, and one a chart in threads as it comes from a blended picture: with symbols, strays
and back-stitch outlines. Seeds are the numbers of the charts. Everything is drawn by this file;
nothing comes from elsewhere. Needs numpy and Pillow.
"""
import concurrent.futures
import csv
import json
import os
import pathlib
import random
import re
import resource
import subprocess
import sys
import time

import numpy as np
from PIL import Image, ImageDraw

from strays import lab

SIZE = 150
FINE = 6
WORKERS = 2


def threads(table):
    with open(table, newline="", encoding="utf-8") as file:
        plain = [row for row in csv.DictReader(file) if row["finish"] == "plain"]
    return [(row["code"], tuple(bytes.fromhex(row["hex"][1:]))) for row in plain]


def drawing(seed, colors):
    """A drawing of flat shapes, finer than its stitches, and its number of colors."""
    rng = random.Random(seed)
    palette = rng.sample(colors, rng.randint(12, 40))
    side = SIZE * FINE
    image = Image.new("RGB", (side, side), palette[0])
    pen = ImageDraw.Draw(image)
    for _ in range(rng.randint(30, 90)):
        color = rng.choice(palette)
        x, y = rng.randint(0, side), rng.randint(0, side)
        reach = rng.randint(FINE, side // 4)
        box = (x - reach, y - reach // 2, x + reach, y + reach // 2)
        shape = rng.choice(("ellipse", "rectangle", "polygon", "line"))
        if shape == "ellipse":
            pen.ellipse(box, fill=color)
        elif shape == "rectangle":
            pen.rectangle(box, fill=color)
        elif shape == "line":
            pen.line(box, fill=color, width=rng.randint(FINE, 3 * FINE))
        else:
            corners = [(x + rng.randint(-reach, reach), y + rng.randint(-reach, reach)) for _ in range(5)]
            pen.polygon(corners, fill=color)
    return image


def shrunk(image, blended):
    return image.resize((SIZE, SIZE), Image.Resampling.BOX if blended else Image.Resampling.NEAREST)


def nearest(image, colors):
    """For each cell the number of the thread whose color is nearest in CIELAB."""
    pixels = np.asarray(image).reshape(-1, 3)
    seen, place = np.unique(pixels, axis=0, return_inverse=True)
    wanted = np.array([lab(color) for color in colors])
    found = [int(((wanted - lab(color)) ** 2).sum(axis=1).argmin()) for color in seen]
    return np.array(found)[place.reshape(-1)].reshape(SIZE, SIZE)


def runs(row):
    out = []
    for entry in row:
        if out and out[-1][1] == entry:
            out[-1][0] += 1
        else:
            out.append([1, entry])
    return out


def chart(cells, held, table, digest):
    used = sorted(set(cells.reshape(-1).tolist()))
    entry = {number: place for place, number in enumerate(used)}
    key = []
    for place, number in enumerate(used):
        code, color = held[number]
        thread = {"table": table, "code": code, "hash": digest}
        symbol = "AHTXKVEYJRDGQ"[place % 13] + "24789"[place // 13 % 5] + "24789"[place // 65 % 5]
        key.append({"symbol": symbol, "color": "#%02x%02x%02x" % color, "thread": thread})
    own = [[entry[number] for number in row] for row in cells.tolist()]
    dark = min(range(len(used)), key=lambda place: sum(held[used[place]][1]))
    lines = []
    for y in range(0, SIZE - 1, 3):
        for x in range(0, SIZE - 1, 3):
            if own[y][x] != own[y][x + 1]:
                lines.append({"from": [x + 1, y], "to": [x + 1, y + 1], "entry": dark})
    return {"format": "dyekin-chart", "version": 1, "width": SIZE, "height": SIZE,
            "cloth": {"color": "#f4f0e6"}, "key": key, "rows": [runs(row) for row in own], "lines": lines}


def draw(number, folder, held, table, digest):
    colors = [color for _, color in held]
    image = drawing(number, colors)
    kind = number % 4
    if kind < 2:
        shrunk(image, kind == 1).save(folder / f"{number:04}.png")
    elif kind == 2:
        cells = nearest(shrunk(image, False), colors)
        with open(folder / f"{number:04}.csv", "w", newline="") as file:
            csv.writer(file).writerows([[held[cell][0] for cell in row] for row in cells.tolist()])
    else:
        cells = nearest(shrunk(image, True), colors)
        text = json.dumps(chart(cells, held, table, digest))
        (folder / f"{number:04}.json").write_text(text, encoding="utf-8")


def check(dyekin, table, path):
    command = [dyekin, "check", path, "--table", table, "--json", "--quiet"]
    run = subprocess.run(command, stdout=subprocess.PIPE, check=True)
    return sum(json.loads(run.stdout)["counts"].values())


def main(dyekin, table, folder, count="1000"):
    folder, count = pathlib.Path(folder), int(count)
    folder.mkdir(parents=True, exist_ok=True)
    said = subprocess.run([dyekin, "table", "check", table, "--json"], stdout=subprocess.PIPE, check=True)
    digest = re.search(r"[0-9a-f]{64}", said.stdout.decode()).group(0)
    held, name = threads(table), pathlib.Path(table).stem
    for number in range(count):
        if not list(folder.glob(f"{number:04}.*")):
            draw(number, folder, held, name, digest)
    paths = sorted(folder.iterdir())[:count]
    start, cpu = time.perf_counter(), os.times()
    with concurrent.futures.ThreadPoolExecutor(WORKERS) as pool:
        notes = sum(pool.map(lambda path: check(dyekin, table, path), paths))
    seconds, after = time.perf_counter() - start, os.times()
    spent = after.children_user + after.children_system - cpu.children_user - cpu.children_system
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    print(f"{len(paths)} charts, {notes} notes: {seconds:.1f} s by the clock with {WORKERS} at a time,")
    print(f"{spent / len(paths) * 1000:.0f} ms of a processor for each, a process for each; at most {peak:.0f} MB")


if __name__ == "__main__":
    main(*sys.argv[1:])
