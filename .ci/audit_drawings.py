#!/usr/bin/env python3
"""Small drawings, read by settlay and drawn by other renderers: are they the same shapes?

    audit_drawings.py READ                compare with librsvg (rsvg-convert) and Chromium, drawn afresh
    audit_drawings.py READ --record DIR   keep what they draw as DIR/rendered.png and DIR/rendered.txt, for `cargo test`

READ is what `cargo run --release --example drawings -- READ` wrote. Every drawing is sampled at the middles of
TILE × TILE squares; settlay must be alike by BAR to librsvg, or to Chromium where rendered.txt names the drawing as one
that librsvg draws otherwise than the standards say (see REASONS).
"""

import argparse
import io
import json
import pathlib
import re
import subprocess
import sys
import tempfile

import numpy
from PIL import Image

TILE = 359  # samples across a page: a prime, so that edges at round numbers never run along a row of samples
ZOOM = 5  # pixels a sample is wide; the middle one counts
COLUMNS = 20  # tiles in a row of the recorded sheet
BAR = 0.99
SLACK = 12  # samples a colour may be off whatever its size: 1.3 mm², corners of thin strips
EDGE = 0.06  # of a sample, 0.02 mm: nearer to an edge a renderer's own grid decides on which side a middle lies
# What librsvg 2.54 draws otherwise than the standards say, by the beginning of a drawing's name. Chromium follows them there.
REASONS = {
    "copy of a symbol": "SVG 2, 5.5 and 8.2: a copied symbol is cut by its viewport unless overflow is visible",
    "copy of a copy of a symbol": "SVG 2, 5.5 and 8.2: a copied symbol is cut by its viewport",
    "copy of a drawing within, sized": "SVG 2, 5.6: width and height of the copy win over those of the svg copied",
    "clip path cut by": "CSS Masking 1, 6: a clip path may itself be clipped",
    "clip path by the box": "CSS Masking 1, 6: the box is the object's in its own user space",
    "clip path of text-free parts, one clipped": "CSS Masking 1, 6: a part of a clip path may be clipped",
    "a symbol": "SVG 2, 5.5 and 8.2: a copied symbol is cut by its viewport unless overflow is visible",
    "a clipped drawing within": "CSS Masking 1, 6: an svg may be clipped",
    "a drawing within copied in percent": "SVG 2, 5.6: width and height of the copy win over those of the svg copied",
    "percent within a copied symbol": "SVG 2, 8.9: percentages refer to the nearest viewport",
    "origin": "CSS Transforms 1, 6: transform-origin",
    "transform by the style": "CSS Transforms 1, 10: functions and units of transform; a style wins over an attribute",
}
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
    across = 3
    for start in range(0, len(jobs), across * across):
        some = jobs[start : start + across * across]
        step = TILE * ZOOM
        with tempfile.TemporaryDirectory() as folder:
            html, shot = pathlib.Path(folder, "page.html"), pathlib.Path(folder, "shot.png")
            images = []
            for k, (path, page) in enumerate(some):
                w, h = (v * ZOOM for v in size(page))
                # A whole number of pixels wide: Chromium rounds the size of a picture before it scales it.
                text, done = re.subn(r"width='([\d.]+)mm' height='([\d.]+)mm'", f"width='{w}' height='{h}'", path.read_text(), count=1)
                assert done, f"{path}: no page"
                if "viewBox" not in text.split(">")[0]:
                    px = [v * 96 / 25.4 for v in page]
                    text = text.replace("<svg ", f"<svg viewBox='0 0 {px[0]} {px[1]}' ", 1)
                copy = pathlib.Path(folder, path.name)
                copy.write_text(text)
                images.append(
                    f"<img src='{copy.as_uri()}' style='position:absolute;left:{k % across * step}px;"
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


def as_read(read, right=0.0, down=0.0):
    """The painted regions sampled, the middles shifted by shares of a sample: even-odd crossings of every row."""
    mm = side(read["page_mm"])
    columns, rows = size(read["page_mm"])
    tile = numpy.zeros((TILE, TILE), dtype=numpy.uint8)
    xs = (numpy.arange(columns) + 0.5 + right) * mm
    for painted in read["painted"]:
        number = COLOURS.index(painted["colour"] or "#ff0000")  # a pattern has none; the one in the table is red
        rings = [numpy.array(r) for r in painted["rings"]]
        for row in range(rows):
            y = read["page_mm"][1] - (row + 0.5 + down) * mm
            crossings = []
            for a in rings:
                b = numpy.roll(a, -1, axis=0)
                over = (a[:, 1] > y) != (b[:, 1] > y)
                a, b = a[over], b[over]
                crossings.append(a[:, 0] + (y - a[:, 1]) / (b[:, 1] - a[:, 1]) * (b[:, 0] - a[:, 0]))
            at = numpy.sort(numpy.concatenate(crossings)) if crossings else []
            tile[row, :columns][numpy.searchsorted(at, xs) % 2 == 1] = number
    return tile


def likeness(a, b):
    """Painted alike over painted in either; 0 where one colour is off by more than its share and SLACK samples."""
    either = ((a > 0) | (b > 0)).sum()
    for number in range(1, len(COLOURS)):
        off = ((a == number) != (b == number)).sum()
        if off > max(SLACK, (1 - BAR) * ((a == number) | (b == number)).sum()):
            return 0.0
    return ((a == b) & (a > 0)).sum() / either if either else 1.0


def alike(read, own, other):
    """Likeness of what was read, sampled as `own`, to what is drawn; samples on an edge count for either side."""
    plain = likeness(own, other)
    if plain >= BAR:
        return plain
    either = own.copy()
    for right, down in ((EDGE, 0), (-EDGE, 0), (0, EDGE), (0, -EDGE)):
        same = as_read(read, right, down) == other
        either[same] = other[same]
    return likeness(either, other)


def version(tool):
    return subprocess.run([tool, "--version"], check=True, capture_output=True, text=True).stdout.strip()


def reason(name):
    return next((why for start, why in REASONS.items() if name.startswith(start)), None)


def record(folder, reads, drawn, second):
    rows = -(-len(drawn) // COLUMNS)
    sheet = numpy.zeros((rows * TILE, COLUMNS * TILE), dtype=numpy.uint8)
    lines = [f"drawn by {version('rsvg-convert')} (librsvg) and {version('chromium')}", ""]
    lines += ["which librsvg draws otherwise than the standards say; these tiles are Chromium's:"]
    for k, (read, tile) in enumerate(zip(reads, drawn)):
        other = second.get(k)
        if other is not None and likeness(tile, other) < BAR:
            lines.append(f"{read['name']}\t{reason(read['name'])}")
            tile = other
        y, x = k // COLUMNS * TILE, k % COLUMNS * TILE
        sheet[y : y + TILE, x : x + TILE] = tile
    picture = Image.fromarray(sheet, mode="P")
    picture.putpalette(PALETTE.astype(numpy.uint8).tobytes())
    picture.save(folder / "rendered.png", optimize=True, bits=2)
    (folder / "rendered.txt").write_text("\n".join(lines) + "\n")


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("read", type=pathlib.Path)
    parser.add_argument("--record", type=pathlib.Path)
    args = parser.parse_args()
    paths = sorted(args.read.glob("*.svg"))
    reads = [json.loads(p.with_suffix(".json").read_text()) for p in paths]
    pages = [r.get("page_mm", [120, 120]) for r in reads]
    drawn = [by_librsvg(p, page) for p, page in zip(paths, pages)]
    asked = [k for k, r in enumerate(reads) if reason(r["name"]) and not r.get("told")]
    by_path = by_chromium([(paths[k], pages[k]) for k in asked])
    second = {k: by_path[paths[k]] for k in asked}
    kept = pathlib.Path(__file__).parent.parent / "tests" / "drawings" / "rendered.txt"
    if args.record:
        record(args.record, reads, drawn, second)
        kept = args.record / "rendered.txt"
    otherwise = {line.split("\t")[0] for line in kept.read_text().splitlines()[3:]}
    bad = compared = by_librsvg_too = 0
    for k, (read, path) in enumerate(zip(reads, paths)):
        at = f"{path.name}  {read['name']}"
        told = read.get("told")
        if "trouble" in read:
            print(f"{at}: not read: {read['trouble']}")
            bad += 1
        elif told:
            if not any(told in note for note in read["notes"]):
                print(f"{at}: it is not told that \"{told}\"")
                bad += 1
        else:
            own = as_read(read)
            likenesses = [alike(read, own, drawn[k])]
            by_librsvg_too += likenesses[0] >= BAR
            if read["name"] in otherwise:
                likenesses.append(alike(read, own, second[k]))
            compared += 1
            if max(likenesses) < BAR:
                print(f"{at}: alike to librsvg and Chromium {' '.join(f'{a:.4f}' for a in likenesses)}")
                bad += 1
    print(f"{compared} drawings compared: {by_librsvg_too} as librsvg draws them, the others as Chromium does; {bad} bad")
    sys.exit(bad > 0)


if __name__ == "__main__":
    main()
