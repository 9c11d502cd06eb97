#!/usr/bin/python3
"""The whole job in a real window on a virtual display, by mouse and keys: open, measure, choose a row,
look around, correct with a reason, undo, save, reopen. Results are held against the command line's,
pictures of the window are looked at by what they show.

usage: window_run.py --gui PROGRAM --cutface PROGRAM --source FOLDER [--keep FOLDER]
"""
import argparse
import json
import os
import pathlib
import random
import shutil
import subprocess
import sys
import tempfile
import time

from PIL import Image

WAIT = 60  # seconds for the slowest step on a loaded machine


class Display:
    """A virtual display of its own; nothing else draws on it."""

    def __init__(self):
        for _ in range(20):
            number = random.randrange(200, 5000)
            if pathlib.Path(f"/tmp/.X{number}-lock").exists():
                continue
            self.name = f":{number}"
            self.server = subprocess.Popen(
                ["Xvfb", self.name, "-screen", "0", "1500x1000x24", "-nolisten", "tcp"],
                stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            if self.answers():
                return
            self.server.terminate()
            self.server.wait()
        raise SystemExit("no virtual display could be started; is Xvfb installed?")

    def answers(self):
        end = time.time() + WAIT
        while time.time() < end and self.server.poll() is None:
            run = subprocess.run(["xdotool", "getmouselocation"], env=dict(os.environ, DISPLAY=self.name),
                                 capture_output=True, check=False)
            if run.returncode == 0:
                return True
            time.sleep(0.2)
        return False

    def close(self):
        self.server.terminate()
        self.server.wait()


class Window:
    def __init__(self, program, display, folder, words):
        self.env = dict(os.environ, DISPLAY=display.name, LIBGL_ALWAYS_SOFTWARE="1",
                        XDG_CONFIG_HOME=str(folder / "config"))
        self.places_file = folder / "places.txt"
        self.picture_file = folder / "window.png"
        self.places_file.unlink(missing_ok=True)
        self.log = open(folder / "log.txt", "w", encoding="utf-8")
        self.process = subprocess.Popen(
            [program, "--places", self.places_file, "--window-picture", self.picture_file]
            + words, env=self.env, stdout=self.log, stderr=self.log)
        self.wait("the window", lambda: self.places_file.exists())
        found = self.tool("search", "--sync", "--name", "cutface").split()
        self.tool("windowfocus", "--sync", found[0])

    def tool(self, *words):
        run = subprocess.run(["xdotool", *[str(w) for w in words]], env=self.env, capture_output=True,
                             text=True, timeout=WAIT, check=False)
        return run.stdout

    def state(self):
        places, words = {}, {}
        for line in self.places_file.read_text(encoding="utf-8").splitlines():
            name, *rest = line.split("\t")
            if name in ("busy", "notice", "verdict word", "view", "signed"):
                words[name] = rest
            elif len(rest) == 4:
                places.setdefault(name, [float(v) for v in rest])
        return places, words

    def wait(self, what, until):
        end = time.time() + WAIT
        while time.time() < end:
            if self.process.poll() is not None:
                raise SystemExit(f"the window ended with status {self.process.returncode} before {what}")
            try:
                if until():
                    return
            except (OSError, ValueError, KeyError, IndexError):
                pass  # being written
            time.sleep(0.1)
        raise SystemExit(f"{what}: did not come within {WAIT} s; state: {self.state()[1]}")

    def word(self, name):
        return self.state()[1][name][0]

    def idle(self):
        self.wait("the end of the job", lambda: self.word("busy") == "0")

    def click(self, name):
        self.wait(name, lambda: name in self.state()[0])
        x, y, w, h = self.state()[0][name]
        self.tool("mousemove", int(x + w / 2), int(y + h / 2))
        time.sleep(0.2)
        self.tool("click", 1)
        time.sleep(0.3)

    def keys(self, *names):
        for name in names:
            self.tool("key", name)
            time.sleep(0.15)

    def picture(self):
        self.picture_file.unlink(missing_ok=True)
        self.keys("ctrl+p")
        self.wait("the picture of the window", lambda: self.picture_file.stat().st_size > 0)
        return Image.open(self.picture_file).convert("RGB")

    def kill(self):
        self.process.kill()
        self.process.wait()
        self.log.close()

    def write(self, field, text):
        self.click(field)
        self.tool("key", "ctrl+a")
        self.tool("type", "--delay", "15", text)  # at once: no letter may be lost to Ctrl
        time.sleep(0.4)

    def close(self):
        self.process.terminate()
        self.process.wait()
        self.log.close()


failures = []


def check(holds, what):
    print(("ok    " if holds else "FAILED  ") + what)
    if not holds:
        failures.append(what)


def share_near(picture, box, colour, reach=40):
    """Share of a box's pixels within `reach` of a colour, in every channel."""
    x, y, w, h = [int(v) for v in box]
    pixels = list(picture.crop((x, y, x + w, y + h)).getdata())
    near = sum(all(abs(a - b) <= reach for a, b in zip(p, colour)) for p in pixels)
    return near / max(1, len(pixels))


def unlocked(source, folder):
    text = (source / "sample-images/LV-7504.design.json").read_text(encoding="utf-8")
    assert '"locked": true' in text
    path = folder / "unlocked.design.json"
    path.write_text(text.replace('"locked": true', '"locked": false'), encoding="utf-8")
    return path


def whole_job(args, display, folder):
    source = pathlib.Path(args.source)
    image = source / "sample-images/LV-7504-thin-septum.png"
    design = unlocked(source, folder)
    words = ["--design", design, "--section", "extrusion", "--calibration",
             source / "calibration/demo-bench-5x.calibration.json", "--serial", "0007", "--taken",
             "2026-04-01", "--inspector", "A. Measurer", "--out", folder / "out"]
    w = Window(args.gui, display, folder, words + [image])
    try:
        w.wait("the verdict", lambda: w.word("verdict word") == "does not conform")
        w.idle()
        look_at_it(w)
        choose_a_row(w)
        move_about(w)
        w.keys("ctrl+s")
        w.wait("the result", lambda: w.word("notice").startswith("saved as"))
        compare_with_command_line(args, words, image, folder)
        correct_and_undo(w, folder)
        ask_the_face(w, folder)
        sign(w, folder)
    finally:
        w.close()
    reopen(args, display, folder)
    killed(args, display, folder, words + [image])
    the_other_rooms(args, display, folder, words + [image])


def look_at_it(w):
    picture = w.picture()
    places, _ = w.state()
    face = places["face"]
    # Sky blue of the lumens and yellow of the outline are on the face, and on it alone.
    check(share_near(picture, face, (87, 181, 232), 30) > 0.001, "lumen contours are drawn on the face")
    check(share_near(picture, face, (240, 227, 66), 30) > 0.0005, "the outline is drawn on the face")
    check(share_near(picture, places["row/1"], (87, 181, 232), 30) < 0.0005, "and not on the rows")
    check("wall/scope" in places and "tray/1" in places, "the wall and the tray are there")


def choose_a_row(w):
    before = w.picture()
    w.click("row/8")
    w.keys("j")
    time.sleep(0.5)
    after = w.picture()
    face = w.state()[0]["face"]
    middle = [face[0] + 0.4 * face[2], face[1] + 0.4 * face[3], 0.2 * face[2], 0.2 * face[3]]
    check(share_near(after, middle, (255, 255, 255), 12) > 0.002,
          "the chosen septum is marked in the middle of the face")
    jumped = float(w.state()[1]["view"][2])
    check(list(before.getdata()) != list(after.getdata()), "choosing a row changes the picture")
    w.keys("f")
    w.wait("the whole face again", lambda: float(w.state()[1]["view"][2]) < 0.8 * jumped)


def move_about(w):
    x, y, width, height = w.state()[0]["face"]
    zoom = float(w.state()[1]["view"][2])
    at = (int(x + 0.3 * width), int(y + 0.3 * height))
    ox, oy = (float(v) for v in w.state()[1]["view"][:2])
    under = ((at[0] - ox) / zoom, (at[1] - oy) / zoom)
    w.tool("mousemove", *at)
    time.sleep(0.2)
    for _ in range(4):
        w.tool("click", 4)
        time.sleep(0.15)
    w.wait("a larger face", lambda: float(w.state()[1]["view"][2]) > 1.5 * zoom)
    time.sleep(0.3)
    ox, oy, now = (float(v) for v in w.state()[1]["view"][:3])
    moved = max(abs((at[0] - ox) / now - under[0]), abs((at[1] - oy) / now - under[1]))
    check(moved < 1, f"zooming keeps what is under the pointer ({moved:.2f} px off)")
    w.tool("mousedown", 1)
    for step in range(1, 6):
        w.tool("mousemove", at[0] + 12 * step, at[1])
        time.sleep(0.08)
    w.tool("mouseup", 1)
    w.wait("a moved face", lambda: float(w.state()[1]["view"][0]) > ox + 30)
    check(True, "dragging moves the face")
    w.keys("f")


def compare_with_command_line(args, words, image, folder):
    ours = folder / "out/LV-7504-thin-septum.result.json"
    line = [w if w != folder / "out" else folder / "line" for w in words]
    subprocess.run([args.cutface, "measure", image] + line, capture_output=True, check=False)
    theirs = folder / "line/LV-7504-thin-septum.result.json"

    def lines(path):
        return [l for l in path.read_text(encoding="utf-8").splitlines() if '"time"' not in l]
    check(lines(ours) == lines(theirs), "window and command line write the same result but for the time")


def correct_and_undo(w, folder):
    w.keys("2")
    w.click("finding/0")
    w.click("finding/dispose")
    w.wait("the reason sheet", lambda: "reason/make" in w.state()[0])
    w.tool("type", "--delay", "60", "known scrap sample")
    time.sleep(0.5)
    w.click("reason/make")
    w.wait("the correction", lambda: "because known scrap sample" in w.word("notice"))
    w.idle()
    w.keys("ctrl+s")
    w.wait("the saved correction", lambda: w.word("notice").startswith("saved as"))
    result = json.loads((folder / "out/LV-7504-thin-septum.result.json").read_text(encoding="utf-8"))
    edits = result["edits"]
    check(len(edits) == 1 and edits[0]["who"] == "A. Measurer" and edits[0]["when"]
          and edits[0]["why"] == "known scrap sample" and edits[0]["new"],
          "a correction is written with who, when, old, new and why")
    w.keys("ctrl+z")
    w.wait("the undo", lambda: w.word("notice") == "as it was found")
    w.keys("ctrl+y")
    w.wait("the redo", lambda: "because known scrap sample" in w.word("notice"))
    check(True, "undo and redo")


def ask_the_face(w, folder):
    """Both bores beside the thin septum: their least distance is row 8's value."""
    result = json.loads((folder / "out/LV-7504-thin-septum.result.json").read_text(encoding="utf-8"))
    pitch = result["calibration"]["mean_pitch_um"]
    w.keys("f", "a")
    time.sleep(0.5)
    for lumen in ("scope", "wash"):
        ox, oy, zoom = (float(v) for v in w.state()[1]["view"][:3])
        x, y = result["features"]["lumens"][lumen]["contour_um"][10]
        w.tool("mousemove", int(ox + x / pitch * zoom), int(oy + y / pitch * zoom))
        time.sleep(0.2)
        w.tool("click", 1)
        time.sleep(0.4)
        time.sleep(1)
        w.idle()
    time.sleep(1)  # the answer moves what stands below it
    w.click("ask/keep")
    w.wait("what was asked", lambda: w.word("notice") == "kept with the result")
    w.keys("ctrl+s")
    w.wait("the saved question", lambda: w.word("notice").startswith("saved as"))
    result = json.loads((folder / "out/LV-7504-thin-septum.result.json").read_text(encoding="utf-8"))
    row = next(c for c in result["characteristics"] if c["no"] == "8")
    asked = result.get("asked", [])
    check(len(asked) == 1 and asked[0]["who"] == "A. Measurer"
          and abs(asked[0]["figure"]["value"] / 1000 - row["actual"]) < 1e-4,
          "the least distance of two edges clicked on is the septum's, and is kept with the result")


def sign(w, folder):
    w.idle()
    w.keys("ctrl+g")
    w.write("sign/store", str(folder / "records.db"))
    w.write("sign/passphrase", "a long passphrase")
    w.click("sign/now")
    w.wait("the store's answer", lambda: "sign" in w.word("notice"))
    w.idle()
    if w.word("notice").startswith("not signed"):  # something stands open: decide on it
        for place in sorted(p for p in w.state()[0] if p.startswith("decide/") and p.endswith("/scrap")):
            w.click(place)
            w.write(place.replace("/scrap", "/reason"), "known scrap sample")
        w.write("sign/passphrase", "a long passphrase")
        w.click("sign/now")
    w.wait("the signature", lambda: w.word("notice") == "signed as measured by A. Measurer")
    check((folder / "records.db").stat().st_size > 0, "a saved result is signed in the store of records")


def at_picture(w, x_px, y_px):
    """Puts the pointer on a place of the picture."""
    ox, oy, zoom = (float(v) for v in w.state()[1]["view"][:3])
    w.tool("mousemove", int(ox + x_px * zoom), int(oy + y_px * zoom))
    time.sleep(0.2)


def killed(args, display, folder, words):
    """One correction, another begun, then kill -9: the next window offers the first and does it again."""
    result = json.loads((folder / "out/LV-7504-thin-septum.result.json").read_text(encoding="utf-8"))
    pitch = result["calibration"]["mean_pitch_um"]
    edge = [[v / pitch for v in point] for point in result["features"]["lumens"]["wash"]["contour_um"]]
    w = Window(args.gui, display, folder, words)
    try:
        w.wait("the verdict", lambda: w.word("verdict word") == "does not conform")
        w.idle()
        w.keys("2")
        w.click("finding/0")
        w.click("finding/dispose")
        w.wait("the reason sheet", lambda: "reason/make" in w.state()[0])
        w.tool("type", "--delay", "60", "before the kill")
        time.sleep(0.5)
        w.click("reason/make")
        w.wait("the correction", lambda: "because before the kill" in w.word("notice"))
        w.idle()
        w.keys("f", "5")
        time.sleep(0.5)
        at_picture(w, *edge[10])
        w.tool("click", 1)
        w.click("correct/redraw")
        for place in (20, 40, 60):
            at_picture(w, *edge[place])
            w.tool("click", 1)
            time.sleep(0.3)
    finally:
        w.kill()  # in the middle of the line
    w = Window(args.gui, display, folder, [])
    try:
        w.wait("the offer", lambda: "recover/take" in w.state()[0])
        w.keys("Return")
        w.wait("the work done again", lambda: w.word("notice").startswith("unsaved work is taken up"))
        check(w.word("verdict word") == "does not conform", "a killed window's correction is done again")
        w.keys("ctrl+s")
        w.wait("the saved work", lambda: w.word("notice").startswith("saved as"))
    finally:
        w.close()
    edits = json.loads((folder / "out/LV-7504-thin-septum.result.json").read_text(encoding="utf-8"))["edits"]
    check([e["why"] for e in edits] == ["before the kill"],
          "what was finished is there, the line that was not is not")
    w = Window(args.gui, display, folder, [])
    try:
        time.sleep(1)
        check("recover/take" not in w.state()[0], "and it is offered once only")
    finally:
        w.close()


def reopen(args, display, folder):
    """By keys: Ctrl O, the path, Enter; the signature of the store stands in the head."""
    result = folder / "out/LV-7504-thin-septum.result.json"
    w = Window(args.gui, display, folder, [])
    try:
        w.keys("ctrl+o")
        w.write("open/path", str(result))
        w.keys("Return")
        w.wait("the verdict of the reopened result", lambda: w.word("verdict word") == "does not conform")
        check("row/8" in w.state()[0], "a saved result opens again with its rows")
        w.wait("the signature", lambda: "measured" in w.word("signed"))
        check("A. Measurer" in w.word("signed"), "and with its signature from the store")
    finally:
        w.close()


def the_other_rooms(args, display, folder, words):
    """The run, the bench and the drawing, each along its main path."""
    source = pathlib.Path(args.source)
    w = Window(args.gui, display, folder, words)
    try:
        w.wait("the verdict", lambda: w.word("verdict word") != "")
        w.idle()
        look_into_a_run(w, folder)
        calibrate(w, source, folder)
        draw(w, folder)
    finally:
        w.close()


def look_into_a_run(w, folder):
    w.keys("r")
    w.write("run/results", str(folder / "out"))
    w.keys("Return")
    w.click("run/read")
    w.wait("the run", lambda: "column/8" in w.state()[0])
    w.click("column/8")
    check("point/0" in w.state()[0], "the run shows the values of a characteristic")
    w.keys("2")
    w.wait("the mean face", lambda: "graph/mean-face" in w.state()[0])
    w.keys("1", "Down", "Return")
    w.wait("the sample of the run", lambda: "page/Rows" in w.state()[0])
    check(True, "and a key opens the sample")
    w.idle()


def calibrate(w, source, folder):
    w.keys("n")
    w.click("bench/next")
    w.write("bench/division", "100")
    w.write("bench/u", "0.15")
    w.click("bench/next")
    for axis in "xy":
        w.write("bench/picture", str(source / f"calibration/demo-stage-micrometer-{axis}.png"))
        w.keys("Return")
        time.sleep(0.3)
    w.click("bench step/4")
    for field, text in (("by", "A. Measurer"), ("id", "bench-x"), ("folder", str(folder / "records")),
                        ("due", "2030-01-01")):
        w.write(f"bench/{field}", text)
        w.keys("Return")
    w.click("bench/look")
    w.wait("what was found", lambda: "bench/keep" in w.state()[0])
    w.idle()
    w.keys("ctrl+s")
    w.wait("the record", lambda: w.word("notice").startswith("kept as"))
    record = json.loads((folder / "records/bench-x.calibration.json").read_text(encoding="utf-8"))
    check(abs(record["pixel_pitch_um"][0] - 2.4031) < 0.001, "the bench keeps the record of a stage micrometer")


def draw(w, folder):
    w.keys("n", "Page_Up")  # back to the picture that can be measured
    path = folder / "drawn.design.json"
    w.keys("d")
    w.click("nominal/open")
    w.wait("the drawing", lambda: "nominal/text" in w.state()[0])
    w.idle()
    result = json.loads((folder / "out/LV-7504-thin-septum.result.json").read_text(encoding="utf-8"))
    pitch = result["calibration"]["mean_pitch_um"]
    middle = [v / pitch for v in result["features"]["lumens"]["cuff"]["centroid_um"]]
    at_picture(w, *middle)
    w.tool("click", 1)
    w.write("size/diameter", "0.31")
    w.keys("Return")
    time.sleep(1)
    w.idle()
    at_picture(w, *middle)
    w.tool("mousedown", 1)
    for step in range(1, 7):
        w.tool("mousemove_relative", 2, 0)
        time.sleep(0.1)
    w.tool("mouseup", 1)
    time.sleep(1)
    w.idle()
    w.write("nominal/path", str(path))
    w.keys("Return", "ctrl+s")
    w.wait("the drawing", lambda: w.word("notice").startswith("saved as"))
    cuff = json.loads(path.read_text(encoding="utf-8"))["sections"]["extrusion"]["lumens"]["cuff"]["circle"]
    check(abs(cuff["diameter"] - 0.31) < 1e-6, "a size is typed into the drawing")
    check(cuff["center"] != [0.80, 0.47] and path.stat().st_size > 1000, "a shape is dragged on the face")
    path.write_text("somebody else's", encoding="utf-8")
    w.keys("ctrl+s")
    w.wait("the question", lambda: "nominal/replace" in w.state()[0])
    check(path.read_text(encoding="utf-8") == "somebody else's", "a file that is there is not replaced unasked")
    w.click("nominal/replace")
    w.wait("the replaced drawing", lambda: path.read_text(encoding="utf-8") != "somebody else's")


def without_a_display(args):
    env = {k: v for k, v in os.environ.items() if k not in ("DISPLAY", "WAYLAND_DISPLAY")}
    run = subprocess.run([args.gui], env=env, capture_output=True, text=True, timeout=WAIT, check=False)
    check(run.returncode == 2 and len(run.stderr.strip().splitlines()) == 1
          and "no window can be opened" in run.stderr and "cutface measure" in run.stderr,
          "without a display: status 2 and one clear line")


def main():
    parser = argparse.ArgumentParser()
    for name in ("--gui", "--cutface", "--source"):
        parser.add_argument(name, required=True)
    parser.add_argument("--keep", help="folder for the files, kept afterwards")
    args = parser.parse_args()
    folder = pathlib.Path(args.keep or tempfile.mkdtemp(prefix="cutface-window-"))
    folder.mkdir(parents=True, exist_ok=True)
    without_a_display(args)
    display = Display()
    try:
        whole_job(args, display, folder)
    finally:
        display.close()
        if not args.keep:
            shutil.rmtree(folder, ignore_errors=True)
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
