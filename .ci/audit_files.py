#!/usr/bin/env python3
"""Read back what plans wrote, with libraries that are not settlay's: DXF by ezdxf, SVG paths by svgelements,
G-code by a small machine of its own, pictures by a browser, the work sheets by pypdf and poppler; curves and areas
compared by shapely. Needs: pip install ezdxf svgelements shapely numpy pypdf, and pdftoppm. Exit 1 when anything is wrong.

    audit_files.py PLAN_FOLDER...
"""
import json
import math
import pathlib
import re
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ET

import ezdxf
import ezdxf.path
import numpy
import pypdf
import svgelements
from shapely import LineString

TOL = 0.03  # mm: a written line may differ from the plan by this
faults = []


def fault(path, text):
    faults.append(f"{path}: {text}")


def audit_dxf(path, bed=None):
    doc = ezdxf.readfile(path)
    audit = doc.audit()
    if audit.errors or audit.fixes:
        fault(path, f"{len(audit.errors)} errors, {len(audit.fixes)} fixes: {[e.message for e in audit.errors][:3]}")
    if doc.dxfversion != "AC1009":
        fault(path, f"version {doc.dxfversion}, wanted R12 (AC1009)")
    lines = []
    for e in doc.modelspace():
        if e.dxftype() != "POLYLINE":
            fault(path, f"unexpected entity {e.dxftype()}")
            continue
        lines.append([(v.x, v.y) for v in ezdxf.path.make_path(e).flattening(0.001)])
    return lines


def audit_svg(path, bed):
    root = ET.parse(path).getroot()
    size = [root.get("width"), root.get("height")]
    if size != [f"{bed[0]:g}mm", f"{bed[1]:g}mm"]:
        fault(path, f"size {size}, bed {bed}")
    lines = []
    for e in root.iter():
        tag = e.tag.split("}")[1]
        if tag not in ("svg", "g", "path", "title", "desc"):
            fault(path, f"a <{tag}> in a cut file")
        if tag != "path":
            continue
        line = []
        for seg in svgelements.Path(e.get("d")):
            if isinstance(seg, svgelements.Arc):
                n = max(2, math.ceil(abs(seg.sweep) / 0.00125))
                c, r = complex(*seg.center), seg.rx
                start = math.atan2(seg.start.y - c.imag, seg.start.x - c.real)
                line += [(c.real + r * math.cos(t), c.imag + r * math.sin(t))
                         for t in (start + seg.sweep * i / n for i in range(1, n + 1))]
            elif seg.end is not None:
                line.append((seg.end.x, seg.end.y))
        lines.append([(x, bed[1] - y) for x, y in line])
    return lines


def run_gcode(path, bed, on="M3", off="M5"):
    """A small machine: absolute millimetres, arcs by their centre. Home at the near left corner."""
    x = y = None
    beam = False
    lines = []
    units = absolute = False
    for n, row in enumerate(path.read_text(encoding="ascii").splitlines(), 1):
        words = re.findall(r"([A-Z])(-?[\d.]+)", re.sub(r"\(.*?\)", "", row))
        at = dict(words)
        g = {float(v) for k, v in words if k == "G"}
        m = {k + v for k, v in words}
        units |= bool(g & {21.0, 71.0})
        absolute |= 90.0 in g
        if off in m:
            beam = False
        if on in m:
            if "S" not in at:
                fault(path, f"row {n}: beam on without a power")
            beam = True
            lines.append([(x, y)])
        motion = g & {0.0, 1.0, 2.0, 3.0}
        if not motion:
            continue
        if not (units and absolute):
            fault(path, f"row {n}: a move before units and G90")
        nx, ny = float(at.get("X", x)), float(at.get("Y", y))
        walked = [(nx, ny)]
        if motion & {2.0, 3.0}:
            i, j = float(at["I"]), float(at["J"])
            cx, cy, r = x + i, y + j, math.hypot(i, j)
            if abs(math.hypot(nx - cx, ny - cy) - r) > 0.002:
                fault(path, f"row {n}: no arc")
            a, b = math.atan2(y - cy, x - cx), math.atan2(ny - cy, nx - cx)
            sweep = (b - a) % math.tau if 3.0 in motion else -((a - b) % math.tau)
            k = max(2, math.ceil(abs(sweep) / 0.00125))
            walked = [(cx + r * math.cos(a + sweep * t / k), cy + r * math.sin(a + sweep * t / k)) for t in range(1, k)] + walked
        if motion == {0.0} and beam:
            fault(path, f"row {n}: travel with the beam on")
        if any(not (-0.001 <= p <= bed[0] + 0.001 and -0.001 <= q <= bed[1] + 0.001) for p, q in walked):
            fault(path, f"row {n}: outside the bed")
        if beam:
            lines[-1] += walked
        x, y = nx, ny
    if beam:
        fault(path, "the beam stays on at the end")
    return lines


def same(lines, burns, path):
    """Every burn of the plan is one line of the file, and each keeps near the other all along."""
    if len(lines) != len(burns):
        return fault(path, f"{len(lines)} lines, the plan has {len(burns)} burns")
    want = [b["path"] + b["path"][:1] if b["closed"] else b["path"] for b in burns]
    left = {}
    for w in want:
        left.setdefault((round(w[0][0], 1), round(w[0][1], 1)), []).append(LineString(w))
    for h in lines:
        h = LineString(h)
        x, y = round(h.coords[0][0], 1), round(h.coords[0][1], 1)
        near = [left.get((round(x + dx, 1), round(y + dy, 1)), []) for dx in (-0.1, 0, 0.1) for dy in (-0.1, 0, 0.1)]
        best = min(((h.hausdorff_distance(w), i, k) for i, l in enumerate(near) for k, w in enumerate(l)), default=None)
        if best is None or not best[0] <= TOL:
            return fault(path, f"a line differs from the plan by {best and round(best[0], 3)} mm")
        near[best[1]].pop(best[2])


def audit_page(path):
    with tempfile.TemporaryDirectory() as profile:
        shot = pathlib.Path(profile) / "page.png"
        subprocess.run(
            ["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking",
             f"--user-data-dir={profile}/p", f"--screenshot={shot}", "--window-size=1200,1600", path.resolve().as_uri()],
            capture_output=True, timeout=120, check=False)
        if not shot.exists() or shot.stat().st_size < 20_000:
            fault(path, "does not render in a browser")
    text = path.read_text(encoding="utf-8")
    if re.search(r'(?:src|href)="https?:', text):
        fault(path, "the page refers to something outside itself")


def audit_sewn(folder, plan):
    """Widths of slender runs by shapely, the phase across neighbours from the poses."""
    from shapely.geometry import Point, Polygon

    pieces = {(p["id"], p["copy"]): p for p in plan["pieces"]}
    cloths = {c["name"]: c for c in plan["cloths"]}
    for p in plan["pieces"]:
        if not p.get("slender"):
            continue
        edge = Polygon(p["drawn"]["outline"], p["drawn"]["cutouts"]).boundary
        for run in p["slender"]:
            axis = run["axis"]
            widths = [2 * edge.distance(Point(q)) for q in axis]
            steps = [math.dist(a, b) for a, b in zip(axis, axis[1:])]
            mean = sum(d * (a + b) / 2 for d, a, b in zip(steps, widths, widths[1:])) / sum(steps)
            if abs(mean - run["width_mm"]) > 0.05 or abs(min(widths) - run["least_width_mm"]) > 0.05:
                fault(folder, f"{p['id']}: a slender run {run['width_mm']:.2f} mm wide, by shapely {mean:.2f}")
            if abs(sum(steps) - run["length_mm"]) > 0.01:
                fault(folder, f"{p['id']}: length of a slender run")
            bias = [abs((math.degrees(math.atan2(b[1] - a[1], b[0] - a[0])) + p["turn_deg"]) % 90 - 45)
                    for a, b in zip(axis, axis[1:])]
            off = sum(d * b for d, b in zip(steps, bias)) / sum(steps)
            if abs(off - run["off_bias_deg"]) > 2.0:
                fault(folder, f"{p['id']}: a run {run['off_bias_deg']:.1f} degrees off the bias, by its line {off:.1f}")

    def on_cloth(p, q):
        t = math.radians(p["turn_deg"])
        return (math.cos(t) * q[0] - math.sin(t) * q[1] + p["shift"][0], math.sin(t) * q[0] + math.cos(t) * q[1] + p["shift"][1])

    for r in plan.get("run_across", []):
        upper, lower = pieces[r["upper"], r["copy"]], pieces[r["lower"], r["copy"]]
        pattern = cloths[upper["cloth"]]["pattern"]
        if r["off_across_mm"] is None or r["off_along_mm"] is None or upper["cloth"] != lower["cloth"]:
            continue
        (ux, uy), (lx, ly), (ox, oy) = on_cloth(upper, r["at"]), on_cloth(lower, r["at"]), pattern["origin"]
        sign = 1 if abs((upper["turn_deg"] - lower["turn_deg"]) % 360 - 180) < 1e-6 else -1
        v = (ux - ox + sign * (lx - ox), uy - oy + sign * (ly - oy))
        a, b = pattern["a"], pattern["b"]
        det = a[0] * b[1] - a[1] * b[0]
        shares = ((v[0] * b[1] - v[1] * b[0]) / det, (a[0] * v[1] - a[1] * v[0]) / det)
        for share, vector, told in zip(shares, (a, b), (r["off_across_mm"], r["off_along_mm"])):
            wrong = (share - told / math.hypot(*vector)) % 1.0
            if min(wrong, 1.0 - wrong) > 1e-3:
                fault(folder, f"{r['upper']} and {r['lower']}: pattern off by {told:.2f} mm is not what the poses say")


# Upright papers, mm: A4 and A3 after ISO 216, letter 8.5 x 11 inches.
PAPERS = [(210.0, 297.0), (297.0, 420.0), (8.5 * 25.4, 11 * 25.4)]
DPI = 300
SQUARE_MM, SQUARE_OFF_MM = 50.0, 0.1


def lines_of_length(dark, pixels, slack):
    """Middles (weighted by darkness) of upright lines whose unbroken run of ink is about so many pixels long."""
    runs = numpy.zeros(dark.shape[1], dtype=int)
    longest = runs.copy()
    for row in dark > 0.3:
        runs = (runs + 1) * row
        longest = numpy.maximum(longest, runs)
    columns = [int(c) for c in numpy.flatnonzero(abs(longest - pixels) <= slack)]
    groups = []
    for c in columns:
        groups[-1].append(c) if groups and c - groups[-1][-1] <= 1 else groups.append([c])
    middles = []
    for g in groups:
        near = numpy.arange(max(0, g[0] - 3), min(dark.shape[1], g[-1] + 4))
        rows = numpy.flatnonzero(dark[:, g].max(axis=1) > 0.3)
        middle_row = int(numpy.median(rows))
        ink = dark[middle_row - 40:middle_row + 40, near].mean(axis=0)
        ink = numpy.where(ink > 0.05, ink, 0.0)
        if ink.sum() > 0:
            middles.append(float((near * ink).sum() / ink.sum()))
    return middles


def audit_square(path, page):
    """The test square as a printer would see it: rendered, then measured in pixels."""
    with tempfile.TemporaryDirectory() as place:
        out = pathlib.Path(place) / "page"
        subprocess.run(["pdftoppm", "-r", str(DPI), "-gray", "-f", str(page), "-l", str(page), "-singlefile", path, out],
                       check=True, capture_output=True, timeout=120)
        raw = out.with_suffix(".pgm").read_bytes()
    _, width, height, _ = re.match(rb"(P5)\s+(\d+)\s+(\d+)\s+(\d+)\s", raw).groups()
    width, height = int(width), int(height)
    dark = 1 - numpy.frombuffer(raw[-width * height:], dtype=numpy.uint8).reshape(height, width) / 255
    side = SQUARE_MM / 25.4 * DPI
    for way, picture in (("wide", dark), ("high", dark.T)):
        at = lines_of_length(picture, side, 6)
        sizes = [(b - a) / DPI * 25.4 for a in at for b in at if b > a]
        size = min(sizes, key=lambda v: abs(v - SQUARE_MM), default=0.0)
        if abs(size - SQUARE_MM) > SQUARE_OFF_MM:
            fault(path, f"the test square on page {page} is {size:.2f} mm {way}")


def audit_sheets(path, plan):
    """Pages of one standard size, all words as text, every piece named, a true test square where keys are drawn."""
    bare = lambda text: re.sub(r"\s", "", text)
    pdf = pypdf.PdfReader(path, strict=True)
    words = []
    for n, page in enumerate(pdf.pages, 1):
        box = [float(v) * 25.4 / 72 for v in page.mediabox]
        if not any(abs(box[2] - w) < 0.05 and abs(box[3] - h) < 0.05 for w, h in PAPERS) or box[:2] != [0, 0]:
            fault(path, f"page {n} is {box[2]:.1f} x {box[3]:.1f} mm")
        words.append(bare(page.extract_text()))
    if (pdf.metadata.title or "") == "" or pdf.metadata.creation_date is not None:
        fault(path, "title missing, or a date in it")
    for piece in plan["pieces"]:
        if piece["id"].isascii() and not any(bare(piece["id"]) in w for w in words):
            fault(path, f"piece {piece['id']} is not named")
    for caution in ("hydrogencyanide", "Neverleavearunninglaser", "PVC"):
        if not any(caution in w for w in words):
            fault(path, f"no caution says {caution}")
    squares = [n for n, w in enumerate(words, 1) if "50mmeachway" in w]
    if not squares and any(p["key"] for p in plan["passes"]):
        fault(path, "keys in full size without a test square")
    for n in squares:
        audit_square(path, n)
    return len(pdf.pages)


SEWING_LAYERS = (("placement", "placement"), ("tack-down", "tack_down"), ("border", "border"))


def svg_layers(path, size):
    """Paths of each layer as points, y up from the lower edge; the page in full size."""
    root = ET.parse(path).getroot()
    if [root.get("width"), root.get("height")] != [f"{v:g}mm" for v in size]:
        fault(path, f"size {root.get('width')} x {root.get('height')}, the field is {size}")
    if [float(v) for v in root.get("viewBox").split()] != [0, 0, *size]:
        fault(path, "a unit is no millimetre")
    layers = {}
    for group in root:
        lines = []
        for e in group:
            if e.tag.endswith("path") and e.get("transform") is None:
                segments = list(svgelements.Path(e.get("d")))
                ends = [(s.end.x, size[1] - s.end.y) for s in segments if s.end is not None]
                lines.append((e.get("data-piece"), ends, any(isinstance(s, svgelements.Close) for s in segments)))
        layers[group.get("id")] = lines
    return layers


def pdf_lines(page):
    """Stroked and filled lines of a page as points, mm, under every matrix in force."""
    content = pypdf.generic.ContentStream(page["/Contents"].get_object(), page.pdf)
    at, kept, lines, line = (1, 0, 0, 1, 0, 0), [], [], []
    mm = 25.4 / 72

    def put(x, y):
        a, b, c, d, e, f = at
        return (mm * (a * x + c * y + e), mm * (b * x + d * y + f))

    for operands, operator in content.operations:
        v = [float(o) for o in operands if isinstance(o, (int, float))]
        if operator == b"q":
            kept.append(at)
        elif operator == b"Q":
            at = kept.pop()
        elif operator == b"cm":
            a, b, c, d, e, f = v
            p, q, r, s, t, u = at
            at = (a * p + b * r, a * q + b * s, c * p + d * r, c * q + d * s, e * p + f * r + t, e * q + f * s + u)
        elif operator == b"m":
            line = [put(*v)]
            lines.append(line)
        elif operator == b"l":
            line.append(put(*v))
        elif operator == b"h" and line:
            line.append(line[0])
    return lines


def size_of(line):
    """Length of a line and the sides of its box, mm."""
    xs, ys = zip(*line)
    return sum(map(math.dist, line, line[1:])), *sorted((max(xs) - min(xs), max(ys) - min(ys)))


def audit_sewing(folder, plan):
    """Every hooping's SVG and PDF: in full size, its lines those of the plan, its pages and test square true."""
    sewing = plan.get("sewing")
    there = {f.name for f in (folder / "sewing").iterdir()} if (folder / "sewing").is_dir() else set()
    names = [f"hooping-{h['number']}" for h in sewing["hoopings"]] if sewing else []
    if there != {n + ending for n in names for ending in (".svg", ".pdf")}:
        fault(folder, "the sheets in sewing are not those of the plan's hoopings")
        return 0
    for name, hooping in zip(names, sewing["hoopings"] if sewing else []):
        svg, pdf = folder / "sewing" / f"{name}.svg", folder / "sewing" / f"{name}.pdf"
        x0, y0, x1, y1 = hooping["field"]
        layers = svg_layers(svg, [round(x1 - x0, 3), round(y1 - y0, 3)])
        for layer, key in SEWING_LAYERS:
            want = [(p["piece"], l) for p in hooping["pieces"] for l in p[key]]
            have = layers.get(layer, [])
            if len(have) != len(want):
                fault(svg, f"{len(have)} lines in {layer}, the plan has {len(want)}")
                continue
            for (piece, points, closed), (named, line) in zip(have, want):
                path = [(x - x0, y - y0) for x, y in line["path"]] + ([(line["path"][0][0] - x0, line["path"][0][1] - y0)] if closed else [])
                if piece != named or closed != line["closed"] or len(points) != len(path):
                    fault(svg, f"{layer}: a line of {named} is not the plan's")
                elif max(map(math.dist, points, path), default=0) > 0.002:
                    fault(svg, f"{layer}: a line of {named} is off by {max(map(math.dist, points, path)):.3f} mm")
        crosses = {(round(sum(x for x, _ in p) / 2, 2), round(sum(y for _, y in p) / 2, 2)) for _, p, _ in layers.get("mark", []) if len(p) == 2}
        marks = {(round(m["at"][0] - x0, 2), round(m["at"][1] - y0, 2)) for m in hooping["marks"]}
        if any(min((math.dist(m, c) for c in crosses), default=9) > 0.02 for m in marks):
            fault(svg, "a mark is not where the plan has it")
        book = pypdf.PdfReader(pdf, strict=True)
        words, sizes = [], []
        for n, page in enumerate(book.pages, 1):
            box = [float(v) * 25.4 / 72 for v in page.mediabox]
            if not any(abs(box[2] - w) < 0.05 and abs(box[3] - h) < 0.05 for w, h in PAPERS):
                fault(pdf, f"page {n} is {box[2]:.1f} x {box[3]:.1f} mm")
            words.append(re.sub(r"\s", "", page.extract_text()))
            sizes += [size_of(l) for l in pdf_lines(page) if len(l) > 1]
        squares = [n for n, w in enumerate(words, 1) if "50mmeachway" in w]
        # One test square for the whole set, on the sheets of the first hooping.
        if bool(squares) != (name == names[0]):
            fault(pdf, "a test square is missing or there twice")
        elif squares:
            audit_square(pdf, squares[0])
        for piece in hooping["pieces"]:
            if piece["piece"].isascii() and not any(re.sub(r"\s", "", piece["piece"]) in w for w in words):
                fault(pdf, f"piece {piece['piece']} is not named")
            for line in piece["placement"]:
                want = size_of(line["path"] + (line["path"][:1] if line["closed"] else []))
                if not any(all(abs(a - b) < 0.1 for a, b in zip(want, s)) for s in sizes):
                    fault(pdf, f"no placement line of {piece['piece']} {want[0]:.1f} mm long in full size")
    return 2 * len(names)


def audit_leftovers(folder, plan):
    """Areas of leftovers and waste by shapely; no leftover reaches into a piece, a flaw or another."""
    from shapely.geometry import Polygon
    from shapely.ops import unary_union

    for cloth in plan["cloths"]:
        whole = Polygon(cloth["outline"])
        pieces = [Polygon(p["cut"]["outline"], p["cut"]["cutouts"]) for p in plan["pieces"] if p["cloth"] == cloth["name"]]
        left = [Polygon(o["outline"], o.get("cutouts", [])) for o in cloth["offcuts"]]
        for told, seen in zip(cloth["offcuts"], left):
            if abs(told["area_mm2"] - seen.area) > 1:
                fault(folder, f"{cloth['name']}: a leftover of {told['area_mm2']:.0f} mm2 is {seen.area:.0f} by shapely")
        gone = unary_union(pieces + [Polygon(f) for f in cloth["flaws"]])
        if sum(l.intersection(gone).area for l in left) > 0.5 or sum(l.area for l in left) - unary_union(left).area > 0.5:
            fault(folder, f"{cloth['name']}: a leftover reaches into a piece, a flaw or another leftover")
        weight = (cloth.get("described") or {}).get("weight_g_per_m2")
        if weight is not None:
            waste = whole.area - sum(p.area for p in pieces) - sum(l.area for l in left)
            if abs(waste * weight / 1e6 - cloth["waste_g"]) > 0.05:
                fault(folder, f"{cloth['name']}: {cloth['waste_g']:.1f} g of waste, by shapely {waste * weight / 1e6:.1f}")
        b = cloth.get("buying")
        if b and not -0.001 <= cloth["buy_length_mm"] - sum(b.values()) < 10:
            fault(folder, f"{cloth['name']}: the length to buy is not what it is made up of")


def main():
    read = 0
    for folder in map(pathlib.Path, sys.argv[1:]):
        plan = json.loads((folder / "plan.json").read_text())
        files = sorted((folder / "cut").iterdir())
        if not files:
            fault(folder, "no cut files")
        by_stem = {f.name: f for f in files}
        passes = [f for f in by_stem if re.search(r"-pass-\d+\.(svg|dxf)$", f)]
        if len(passes) != 2 * len(plan["passes"]):
            fault(folder, f"{len(passes)} pass files for {len(plan['passes'])} passes")
        for p in plan["passes"]:
            stem = re.sub(r"[^a-z0-9]+", "-", p["cloth"].lower()).strip("-") + f"-pass-{p['number']}"
            for ending, reader in ((".dxf", audit_dxf), (".svg", lambda f: audit_svg(f, p["bed_mm"]))):
                if stem + ending not in by_stem:
                    fault(folder, f"cut/{stem}{ending} is missing")
                    continue
                same(reader(by_stem[stem + ending]), p["burns"], by_stem[stem + ending])
                read += 1
            code, walk = by_stem.get(stem + ".gcode"), by_stem.get(stem + "-rehearsal.gcode")
            if code:
                same(run_gcode(code, p["bed_mm"]), p["burns"], code)
                read += 1
            if walk:
                if run_gcode(walk, p["bed_mm"]):
                    fault(walk, "a rehearsal burns")
                read += 1
            if p["number"] > 1:
                for ending in (".svg", ".dxf"):
                    if f"{stem}-key{ending}" not in by_stem:
                        fault(folder, f"cut/{stem}-key{ending} is missing")
        for f in files:
            if f.name.endswith("-key.dxf"):
                audit_dxf(f)
                read += 1
        audit_page(folder / "report.html")
        for name in ("lay.png", "sewn.png"):
            if (folder / name).read_bytes()[:8] != b"\x89PNG\r\n\x1a\n":
                fault(folder, f"{name} is no PNG")
        audit_sewn(folder, plan)
        audit_leftovers(folder, plan)
        read += audit_sewing(folder, plan)
        print(f"{folder / 'sheets.pdf'}: {audit_sheets(folder / 'sheets.pdf', plan)} pages")
    print("\n".join(faults) or f"{read} files agree with their plans")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
