#!/usr/bin/env python3
"""Small drawings, read by settlay and rendered by another renderer: are they the same shapes?

    audit_drawings.py READ                      compare with librsvg (rsvg-convert)
    audit_drawings.py READ --chromium           with Chromium as well, as a second opinion
    audit_drawings.py READ --record SHEET       keep what librsvg draws as one picture, for `cargo test`

READ is what `cargo run --release --example drawings -- READ` wrote. Every drawing is sampled at the middles of
TILE × TILE squares; for every colour in it the intersection over union of both samplings must be at least BAR.
"""

import argparse
import io
import json
import pathlib
import subprocess
import sys
import tempfile

import numpy
from PIL import Image

TILE = 200  # samples across a page
ZOOM = 5  # pixels a sample is wide; the middle one counts
COLUMNS = 20  # tiles in a row of the recorded sheet
BAR = 0.99
COLOURS = ["#ffffff", "#ff0000", "#0000ff", "#00aa00"]
PALETTE = numpy.array([[int(c[i : i + 2], 16) for i in (1, 3, 5)] for c in COLOURS])


def side(page):
    """Millimetres of a sample: the longer side of the page has TILE of them."""
    return max(page) / TILE


def size(page):
    return [round(v / side(page)) for v in page]


def nearest(pixels):
    """Number of the nearest colour, by pixel; the middles of all squares, as a full tile."""
    middles = pixels[ZOOM // 2 :: ZOOM, ZOOM // 2 :: ZOOM, :3].astype(int)
    numbers = ((middles[:, :, None, :] - PALETTE) ** 2).sum(axis=3).argmin(axis=2)
    tile = numpy.zeros((TILE, TILE), dtype=numpy.uint8)
    tile[: numbers.shape[0], : numbers.shape[1]] = numbers
    return tile


def opened(png):
    picture = Image.open(io.BytesIO(png)).convert("RGBA")
    paper = Image.new("RGBA", picture.size, "white")
    return numpy.asarray(Image.alpha_composite(paper, picture))


def by_librsvg(path, page):
    w, h = (str(v * ZOOM) for v in size(page))
    png = subprocess.run(["rsvg-convert", "-w", w, "-h", h, str(path)], check=True, capture_output=True).stdout
    return nearest(opened(png))


def by_chromium(jobs):
    """All drawings, some to a page of the browser."""
    out = {}
    across = 4
    for start in range(0, len(jobs), across * across):
        some = jobs[start : start + across * across]
        step = TILE * ZOOM
        with tempfile.TemporaryDirectory() as folder:
            html, shot = pathlib.Path(folder, "page.html"), pathlib.Path(folder, "shot.png")
            images = []
            for k, (path, page) in enumerate(some):
                w, h = (v * ZOOM for v in size(page))
                images.append(
                    f"<img src='{path.resolve().as_uri()}' style='position:absolute;left:{k % across * step}px;"
                    f"top:{k // across * step}px;width:{w}px;height:{h}px'>"
                )
            html.write_text("<body style='margin:0;background:#fff'>" + "".join(images))
            subprocess.run(
                ["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking",
                 "--hide-scrollbars", f"--window-size={across * step},{across * step}", f"--screenshot={shot}",
                 f"--user-data-dir={folder}/profile", html.as_uri()],
                check=True, capture_output=True,
            )
            whole = opened(shot.read_bytes())
            for k, (path, page) in enumerate(some):
                w, h = (v * ZOOM for v in size(page))
                x, y = k % across * step, k // across * step
                out[path] = nearest(whole[y : y + h, x : x + w])
    return out


def as_read(read):
    """The painted regions sampled: even-odd crossings of every row of middles."""
    mm = side(read["page_mm"])
    columns, rows = size(read["page_mm"])
    tile = numpy.zeros((TILE, TILE), dtype=numpy.uint8)
    xs = (numpy.arange(columns) + 0.5) * mm
    for painted in read["painted"]:
        number = COLOURS.index(painted["colour"])
        for row in range(rows):
            y = read["page_mm"][1] - (row + 0.5) * mm
            crossings = []
            for ring in painted["rings"]:
                a = numpy.array(ring)
                b = numpy.roll(a, -1, axis=0)
                over = (a[:, 1] > y) != (b[:, 1] > y)
                a, b = a[over], b[over]
                crossings.append(a[:, 0] + (y - a[:, 1]) / (b[:, 1] - a[:, 1]) * (b[:, 0] - a[:, 0]))
            at = numpy.sort(numpy.concatenate(crossings)) if crossings else []
            tile[row, :columns][numpy.searchsorted(at, xs) % 2 == 1] = number
    return tile


def likeness(a, b):
    """The least intersection over union of any colour."""
    worst = 1.0
    for number in range(1, len(COLOURS)):
        both, either = ((a == number) & (b == number)).sum(), ((a == number) | (b == number)).sum()
        if either:
            worst = min(worst, both / either)
    return worst


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("read", type=pathlib.Path)
    parser.add_argument("--chromium", action="store_true")
    parser.add_argument("--record", type=pathlib.Path)
    args = parser.parse_args()
    paths = sorted(args.read.glob("*.svg"))
    reads = [json.loads(p.with_suffix(".json").read_text()) for p in paths]
    pages = [r.get("page_mm", [120, 120]) for r in reads]
    drawn = [by_librsvg(p, page) for p, page in zip(paths, pages)]
    second = by_chromium(list(zip(paths, pages))) if args.chromium else {}
    if args.record:
        rows = -(-len(drawn) // COLUMNS)
        sheet = numpy.zeros((rows * TILE, COLUMNS * TILE), dtype=numpy.uint8)
        for k, tile in enumerate(drawn):
            y, x = k // COLUMNS * TILE, k % COLUMNS * TILE
            sheet[y : y + TILE, x : x + TILE] = tile
        picture = Image.fromarray(sheet, mode="P")
        picture.putpalette(PALETTE.astype(numpy.uint8).tobytes())
        picture.save(args.record, optimize=True, bits=2)
    bad = 0
    compared = 0
    for path, read, tile in zip(paths, reads, drawn):
        own = None if "trouble" in read else as_read(read)
        told = read.get("told")
        by = "" if path not in second else f"  librsvg and Chromium {likeness(tile, second[path]):.4f}"
        if own is None:
            print(f"{path.name}  {read['name']}: not read: {read['trouble']}{by}")
            bad += 1
            continue
        if told:
            if not any(told in note for note in read["notes"]):
                print(f"{path.name}  {read['name']}: it is not told that \"{told}\"")
                bad += 1
            continue
        alike = likeness(own, tile)
        compared += 1
        if second:
            by += f"  settlay and Chromium {likeness(own, second[path]):.4f}"
        if alike < BAR or (second and likeness(own, second[path]) < BAR):
            bad += alike < BAR
            print(f"{path.name}  {read['name']}: settlay and librsvg {alike:.4f}{by}  {' '.join(read['notes'])}")
    print(f"{compared} drawings compared with librsvg, {bad} below {BAR} or not told")
    sys.exit(bad > 0)


if __name__ == "__main__":
    main()
