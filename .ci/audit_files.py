#!/usr/bin/env python3
"""Read back what plans wrote, with libraries that are not settlay's: DXF by ezdxf, SVG by the standard XML
reader, pictures by a browser. Needs: pip install ezdxf. Exit 1 when anything is wrong.

    audit_files.py PLAN_FOLDER...
"""
import json
import pathlib
import re
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ET

import ezdxf

TOL = 0.01  # mm: a written line may differ from the plan by this
faults = []


def fault(path, text):
    faults.append(f"{path}: {text}")


def audit_dxf(path):
    doc = ezdxf.readfile(path)
    audit = doc.audit()
    if audit.errors or audit.fixes:
        fault(path, f"{len(audit.errors)} errors, {len(audit.fixes)} fixes: {[e.message for e in audit.errors][:3]}")
    if doc.dxfversion != "AC1009":
        fault(path, f"version {doc.dxfversion}, wanted R12 (AC1009)")
    lines = []
    for e in doc.modelspace():
        if e.dxftype() == "POLYLINE":
            lines.append([(v.dxf.location.x, v.dxf.location.y) for v in e.vertices])
        elif e.dxftype() == "LINE":
            lines.append([(e.dxf.start.x, e.dxf.start.y), (e.dxf.end.x, e.dxf.end.y)])
        else:
            fault(path, f"unexpected entity {e.dxftype()}")
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
        if tag == "path":
            for sub in re.split(r"[Mm]", e.get("d"))[1:]:
                n = [float(v) for v in re.findall(r"-?\d+(?:\.\d+)?", sub)]
                lines.append([(x, bed[1] - y) for x, y in zip(n[::2], n[1::2])])
    return lines


def same(lines, burns, path):
    if len(lines) != len(burns):
        return fault(path, f"{len(lines)} lines, the plan has {len(burns)} burns")
    want = sorted([[tuple(p) for p in b["path"]] for b in burns])
    key = lambda l: [(round(x, 2), round(y, 2)) for x, y in l]
    have = sorted(lines)
    want, have = sorted(want, key=key), sorted(have, key=key)
    for w, h in zip(want, have):
        if len(h) == len(w) + 1:
            h = h[:-1]
        worst = max((abs(a - c) + abs(b - d) for (a, b), (c, d) in zip(w, h)), default=0)
        if len(w) != len(h) or worst > 2 * TOL:
            return fault(path, f"a line differs from the plan by {worst:.3f} mm")


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
            if p["number"] > 1:
                for ending in (".svg", ".dxf"):
                    if f"{stem}-key{ending}" not in by_stem:
                        fault(folder, f"cut/{stem}-key{ending} is missing")
        for f in files:
            if f.name.endswith("-key.dxf"):
                audit_dxf(f)
                read += 1
        audit_page(folder / "report.html")
        if (folder / "lay.png").read_bytes()[:8] != b"\x89PNG\r\n\x1a\n":
            fault(folder, "lay.png is no PNG")
    print("\n".join(faults) or f"{read} cut files agree with their plans")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
