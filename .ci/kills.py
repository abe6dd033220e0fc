#!/usr/bin/env python3
"""Ends settlay exactly before its first, second, third ... step that changes a folder (rename, link, unlink, fsync), as a power
cut would, and looks at what is there: before and after the next run. Needs strace.

Usage: kills.py PROGRAM
"""
import csv
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

PROGRAM = str(Path(sys.argv[1]).resolve())
CALLS = "rename,renameat,renameat2,link,linkat,unlink,unlinkat,fsync,fdatasync"
DRAWING = """<svg xmlns="http://www.w3.org/2000/svg" width="360mm" height="160mm" viewBox="0 0 360 160">
<g id="band"><path id="reed" d="M10 10C120 0 240 30 350 10L350 50C240 70 120 40 10 50z" fill="#246"/></g>
<circle id="sun" cx="60" cy="110" r="30" fill="#c80"/><rect id="leaf" x="120" y="80" width="70" height="60" fill="#c80"/></svg>
"""
JOB = {
    "settlay": 1, "title": "Reed", "drawing": "d.svg",
    "cloths": [
        {"name": "check", "width_mm": 420, "edge_mm": 10, "weave": "twill-z",
         "pattern": {"repeat_across_mm": 60, "repeat_along_mm": 70, "symmetrical": True}},
        {"name": "plain", "width_mm": 500, "length_mm": 600, "edge_mm": 10, "weave": "plain"}],
    "pieces": [{"select": {"id": "reed"}, "cloth": "check", "match": "drawn"}, {"select": {"id": "*"}, "cloth": "plain"}],
    "cutter": {"bed_mm": [240, 200], "kerf_mm": 0.2, "shared_band_mm": 60},
    "sheets": {"pages": ["job"]},
    "lay": {"effort": 1, "seed": 1},
}
WORKERS = 4
failures = []
counts = {}


def run(args, cwd, **more):
    return subprocess.run([PROGRAM, *args], cwd=cwd, capture_output=True, text=True, stdin=subprocess.DEVNULL, **more)


def well(args, cwd):
    done = run(args, cwd)
    if done.returncode != 0:
        sys.exit(f"settlay {' '.join(args)} failed:\n{done.stdout}{done.stderr}")
    return done


def tree(folder, skip=()):
    """Every file by name, but for hidden ones of ours and the locks that stay."""
    found = {}
    for path in sorted(Path(folder).rglob("*")):
        name = str(path.relative_to(folder))
        if path.is_dir() or "/.settlay-" in "/" + name or name.endswith(".lock") or any(s in name for s in skip):
            continue
        found[name] = os.readlink(path).encode() if path.is_symlink() else path.read_bytes()
    return found


# Moments are of the day: they differ from run to run.
MOMENT = re.compile(rb"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ|\d{4}-\d\d-\d\d(?: at)? \d\d:\d\d")


def alike(one, other):
    """The same but for moments and what follows from them."""
    if one.keys() != other.keys():
        return False
    return all(MOMENT.sub(b"T", a) == MOMENT.sub(b"T", other[n]) for n, a in one.items() if not n.endswith((".pdf", ".png")))


def hidden(folder):
    return [str(p) for p in Path(folder).rglob("*") if p.name.startswith(".settlay-")]


def ended_before(n, args, cwd):
    """True when the run came to its Nth step and was ended before it."""
    done = subprocess.run(
        ["strace", "-f", "-qq", "-o", "/dev/null", "-e", f"trace={CALLS}",
         "-e", f"inject={CALLS}:signal=SIGKILL:when={n}", PROGRAM, *args],
        cwd=cwd, capture_output=True, text=True, stdin=subprocess.DEVNULL)
    return done.returncode in (-9, 137)


def scenario(name, start, args, again, at_once=True, skip=()):
    """`start` is a folder to begin with; `args` what is ended; `again` the next run. Old or new at every moment (`at_once`),
    and after the next run."""
    with tempfile.TemporaryDirectory() as scratch:
        after = Path(scratch, "after")
        shutil.copytree(start, after, symlinks=True)
        well(args, after)
        old, new = tree(start, skip), tree(after, skip)
        def at(n):
            """False when there is no Nth step."""
            place = Path(scratch, f"at-{n}")
            shutil.copytree(start, place, symlinks=True)
            if not ended_before(n, args, place):
                return False
            now = tree(place, skip)
            if at_once and not (alike(now, old) or alike(now, new)):
                failures.append(f"{name}, before step {n}: neither old nor new: {sorted(set(now) ^ set(new))[:6]}")
            next_run = run(again, place)
            # What it is asked may be senseless; it must say so and no more.
            if next_run.returncode not in (0, 1, 2) or "panicked" in next_run.stderr:
                failures.append(f"{name}, before step {n}: the next run ends with {next_run.returncode}: {next_run.stderr[:200]}")
            now = tree(place, skip)
            if not (alike(now, old) or alike(now, new)):
                differing = [k for k in now.keys() | new.keys() if now.get(k) != new.get(k)]
                failures.append(f"{name}, before step {n}, after the next run: neither old nor new: {differing[:6]}")
            if hidden(place):
                failures.append(f"{name}, before step {n}: left behind: {hidden(place)}")
            shutil.rmtree(place)
            return True

        n = 0
        with ThreadPoolExecutor(WORKERS) as workers:
            while n < 2000:
                came = list(workers.map(at, range(n + 1, n + 1 + WORKERS)))
                n += sum(came)
                if not all(came):
                    break
        counts[name] = n
        if n < 2:
            failures.append(f"{name}: only {n} steps were seen")


def main():
    if subprocess.run(["strace", "-f", "-qq", "-o", "/dev/null", "true"], capture_output=True).returncode != 0:
        print("skipped: strace may not watch a program on this machine; src/files/kill_tests.rs does without it")
        return
    base = Path(tempfile.mkdtemp())
    empty = base / "empty"
    empty.mkdir()
    (empty / "d.svg").write_text(DRAWING)
    (empty / "j.job.json").write_text(json.dumps(JOB))
    planned = base / "planned"
    shutil.copytree(empty, planned)
    well(["plan", "j.job.json", "--out", "w"], planned)
    passes = [p for p in json.loads((planned / "w/plan.json").read_text())["passes"] if p["cloth"] == "check"]
    assert len(passes) >= 2, "the job has to be cut in passes"
    # What looks at a plan without changing it: there is no such burn.
    look = ["realign", "w", "--cloth", "check", "--pass", "2", "--from-burn", "9999"]
    other = json.loads(json.dumps(JOB))
    other["title"] = "Reed, another"
    (planned / "other.job.json").write_text(json.dumps(other))
    scenario("plan into a new folder", empty, ["plan", "j.job.json", "--out", "w"], ["plan", "j.job.json", "--out", "w"])
    scenario("plan over an older plan", planned, ["plan", "other.job.json", "--out", "w"], look)
    noted = base / "noted"
    shutil.copytree(planned, noted)
    (noted / "w/my notes.txt").write_text("mine")
    scenario("plan over an older plan, with the maker's notes", noted, ["plan", "other.job.json", "--out", "w"], look)
    (noted / "w/photographs").mkdir()
    (noted / "w/photographs/a.txt").symlink_to("b.txt")
    scenario("plan over an older plan, file by file", noted, ["plan", "other.job.json", "--out", "w"], look, at_once=False)
    mark = ["realign", "w", "--cloth", "check", "--pass", "1", "--mark-done", "--shelf", "shelf.json"]
    scenario("a pass marked as cut", planned, mark, look)
    cut = base / "cut"
    shutil.copytree(planned, cut)
    well(mark, cut)
    with open(cut / "m.csv", "w", newline="") as file:
        rows = csv.writer(file)
        rows.writerow(["name", "x_mm", "y_mm"])
        for m in passes[1]["marks"]:
            if not m["burnt_here"]:
                rows.writerow([m["name"], f"{m['bed'][0] + 0.2:.3f}", f"{m['bed'][1] - 0.1:.3f}"])
    realign = ["realign", "w", "--cloth", "check", "--pass", "2", "--marks", "m.csv"]
    scenario("a pass realigned", cut, realign, look)
    scenario("a record taken back", cut, [*mark[:6], "--not-cut", "--shelf", "shelf.json"], look)
    scenario("the rest of a pass", cut, ["realign", "w", "--cloth", "check", "--pass", "2", "--from-burn", "1"], look)
    recut = ["recut", "j.job.json", "--piece", "leaf", "--plan", "w", "--shelf", "shelf.json", "--out", "again"]
    scenario("a piece cut again", planned, recut, recut)
    add = ["offcuts", "--shelf", "shelf.json", "add", "--plan", "w", "--date", "2026-05-01"]
    listed = ["offcuts", "--shelf", "shelf.json", "list"]
    # A picture may come before its entry: a label that was drawn is never given again.
    scenario("leftovers put on the shelf", planned, add, listed, at_once=False, skip=("pictures/",))
    shelved = base / "shelved"
    shutil.copytree(planned, shelved)
    well(add, shelved)
    ids = re.findall(r'"id": ?"([^"]+)"', (shelved / "shelf.json").read_text())
    scenario("an offcut taken", shelved, ["offcuts", "--shelf", "shelf.json", "take", ids[0]], listed)
    table(planned)
    shutil.rmtree(base)
    for name, n in counts.items():
        print(f"{n:4} steps  {name}")
    for failure in failures:
        print("FAILED", failure)
    print(f"{sum(counts.values())} runs ended, {len(failures)} failures")
    sys.exit(1 if failures else 0)


class Table:
    """A cutting table on a job, perhaps one that is ended at a step."""

    def __init__(self, folder, n=None):
        words = [PROGRAM, "table", "j.job.json", "--no-open", "--port", "0"]
        if n:
            words = ["strace", "-f", "-qq", "-o", "/dev/null", "-e", f"trace={CALLS}",
                     "-e", f"inject={CALLS}:signal=SIGKILL:when={n}", *words]
        self.process = subprocess.Popen(words, cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
                                        start_new_session=True)
        self.address = None
        for line in self.process.stdout:
            if line.startswith("http"):
                self.address = line.strip()
                break

    def ask(self, method, path, body=None, revision=None, kind="application/json"):
        headers = {"Content-Type": kind, **({"If-Match": str(revision)} if revision is not None else {})}
        request = urllib.request.Request(self.address + path, data=body, method=method, headers=headers)
        with urllib.request.urlopen(request, timeout=20) as answer:
            return json.loads(answer.read())

    def end(self):
        # What watches it and itself.
        try:
            os.killpg(self.process.pid, signal.SIGKILL)
        except ProcessLookupError:
            pass
        self.process.wait()
        self.process.stdout.close()


def table(start):
    """Changes on the table: what was answered is kept, and the rest is old or new."""
    new_drawing = DRAWING.replace("#c80", "#a60").encode()
    with tempfile.TemporaryDirectory() as scratch:
        for n in range(1, 60):
            place = Path(scratch, f"at-{n}")
            shutil.copytree(start, place)
            on = Table(place, n)
            answered, title, drawn = 0, "Reed", False
            try:
                if on.address:
                    state = on.ask("GET", "api/state")
                    job = state["job"]
                    for k in (1, 2):
                        job["title"] = f"Reed {k}"
                        state = on.ask("PUT", "api/job", json.dumps({"job": job}).encode(), state["revision"])
                        answered, title = answered + 1, job["title"]
                    state = on.ask("POST", "api/drawing?name=d.svg&over=1", new_drawing, state["revision"], "application/octet-stream")
                    answered, drawn = answered + 1, True
                    on.ask("POST", "api/save", b'{"over": true}', state["revision"])
                    answered += 1
            except (urllib.error.URLError, ConnectionError, TimeoutError, OSError) as e:
                if isinstance(e, urllib.error.HTTPError):
                    failures.append(f"table, step {n}: refused: {e.read()[:200]}")
            time.sleep(0.02)
            survived = on.process.poll() is None
            on.end()
            drawing = (place / "d.svg").read_bytes()
            if drawing != new_drawing and (drawn or drawing != DRAWING.encode()):
                failures.append(f"table, step {n}: the drawing is neither old nor new")
            json.loads((place / "j.job.json").read_text())
            again = Table(place)
            if not again.address:
                failures.append(f"table, step {n}: it does not open again")
                again.end()
                continue
            state = again.ask("GET", "api/state")
            titles = {title, f"Reed {answered + 1}"}
            if state["job"]["title"] not in titles:
                failures.append(f"table, step {n}: {answered} changes were answered, but its title is {state['job']['title']}")
            if hidden(place):
                failures.append(f"table, step {n}: left behind: {hidden(place)}")
            again.end()
            shutil.rmtree(place)
            if survived and answered == 4:
                break
        counts["changes on the table"] = n - 1


main()
