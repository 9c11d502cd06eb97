#!/usr/bin/python3
"""Makes the README's pictures of the window: each page on the demo part, by mouse and keys in a real window on a
virtual display, packed small. Made again after a change that can be seen:

usage: window_pictures.py --gui PROGRAM --cutface PROGRAM --source FOLDER [--out FOLDER] [--only NAME ...]
"""
import argparse
import pathlib
import shutil
import subprocess
import tempfile
import time

import numpy
from PIL import Image

import window_run

SIZE = ["--width", "1280", "--height", "800"]


class Camera:
    def __init__(self, args, display, folder):
        self.args, self.display, self.folder = args, display, folder
        self.source = pathlib.Path(args.source)
        self.out = pathlib.Path(args.out)

    def window(self, *words, name="window"):
        folder = self.folder / name
        folder.mkdir(exist_ok=True)
        return window_run.Window(self.args.gui, self.display, folder, SIZE + list(words))

    def order(self, picture, *more):
        design = self.source / "sample-images/LV-7504.design.json"
        text = design.read_text(encoding="utf-8")  # edges are the inspector's here
        design.write_text(text.replace('"locked": true', '"locked": false'), encoding="utf-8")
        return ["--design", design, "--section", "extrusion", "--calibration",
                self.source / "calibration/demo-bench-5x.calibration.json", "--serial", "0007", "--lot", "L-12",
                "--taken", "2026-04-01", "--inspector", "A. Measurer", "--out", self.folder / "out",
                *more, self.source / "sample-images" / picture]

    def save(self, w, name):
        if self.args.only and name not in self.args.only:
            return
        w.tool("mousemove", 2, 2)
        time.sleep(0.6)
        picture = w.picture()
        small = pack(picture)
        small.save(self.out / f"{name}.png", optimize=True)
        print(f"{name}: {(self.out / (name + '.png')).stat().st_size // 1024} kB, "
              f"farthest colour {farthest(picture, small.convert('RGB'))}")


def pack(picture):
    """A palette for a small PNG. A photo's grain is what fills one, so its greys share some thirty tones; the colours
    that cover most of the window stay exactly what they are, the rest takes the nearest of its own."""
    pixels = numpy.asarray(picture).astype(int)
    grey = pixels.max(axis=2) - pixels.min(axis=2) <= 1
    pixels[grey] = (pixels[grey] // 8 * 8 + 4).clip(0, 255)
    colours, at, often = numpy.unique(pixels.reshape(-1, 3), axis=0, return_inverse=True, return_counts=True)
    order = numpy.argsort(-often)
    palette = list(map(tuple, colours[order[:190]]))
    rest = colours[order[190:]].astype(numpy.uint8)
    if len(rest):
        near = Image.fromarray(rest[None, :, :]).quantize(64, method=Image.Quantize.MEDIANCUT).getpalette()
        palette += [tuple(near[3 * k:3 * k + 3]) for k in range(len(near) // 3)][:64]
    table = numpy.array(palette)
    nearest = numpy.array([numpy.abs(table - colour).sum(axis=1).argmin() for colour in colours])
    packed = Image.fromarray(nearest[at].reshape(pixels.shape[:2]).astype(numpy.uint8), "P")
    packed.putpalette([int(v) for colour in palette for v in colour])
    return packed


def farthest(picture, packed):
    """How far the saturated pixels have moved in the worst case: marks must keep their colours."""
    worst = 0
    for a, b in zip(picture.getdata(), packed.getdata()):
        if max(a) - min(a) > 60:
            worst = max(worst, max(abs(x - y) for x, y in zip(a, b)))
    return worst


def measured(w):
    w.wait("the verdict", lambda: w.word("verdict word") not in ("", "-"))
    w.idle()


def face_pages(c):
    w = c.window(*c.order("LV-7504-thin-septum.png"), name="face")
    try:
        measured(w)
        w.click("row/8")
        c.save(w, "rows")
        w.keys("j")
        time.sleep(0.5)
        w.keys("2")
        w.click("finding/0")
        c.save(w, "findings")
        w.keys("f", "3")
        w.click("feature/scope")
        c.save(w, "values")
        ask(w, c)
        c.save(w, "ask")
        w.keys("Escape", "5")
        point_at(w, c, "wash")
        w.tool("click", 1)
        time.sleep(0.5)
        c.save(w, "corrections")
        w.keys("Escape", "6")
        c.save(w, "sample")
        w.keys("ctrl+s")
        w.wait("the result", lambda: w.word("notice").startswith("saved as"))
        w.keys("ctrl+g")
        w.write("sign/store", "lab.records")
        time.sleep(1)
        c.save(w, "sign")
        w.click("sign/close")
        w.keys("1", "l")
        w.click("row/8")
        c.save(w, "dark")
        w.keys("l")
        w.keys("ctrl+o")
        time.sleep(0.5)
        c.save(w, "open")
        w.keys("Escape")
        w.click("about")
        c.save(w, "about")
    finally:
        w.close()


def point_at(w, c, lumen):
    import json  # only here
    result = json.loads((c.folder / "line/LV-7504-thin-septum.result.json").read_text(encoding="utf-8"))
    pitch = result["calibration"]["mean_pitch_um"]
    ox, oy, zoom = (float(v) for v in w.state()[1]["view"][:3])
    x, y = result["features"]["lumens"][lumen]["contour_um"][10]
    w.tool("mousemove", int(ox + x / pitch * zoom), int(oy + y / pitch * zoom))
    time.sleep(0.3)


def ask(w, c):
    w.keys("a")
    time.sleep(0.5)
    for lumen in ("scope", "wash"):
        point_at(w, c, lumen)
        w.tool("click", 1)
        time.sleep(1.2)
        w.idle()


def run_pages(c):
    run = c.folder / "run"
    w = c.window("--design", c.source / "sample-images/LV-7504.design.json", run / "run.json", name="run")
    try:
        w.wait("the run", lambda: "column/8" in w.state()[0] or "sample/0" in w.state()[0])
        w.idle()
        if "plane/extrusion" in w.state()[0]:
            w.click("plane/extrusion")
        w.click("column/8")
        c.save(w, "run")
        w.click("question/mean-face")
        c.save(w, "run-mean-face")
        w.click("question/run-order")
        c.save(w, "run-order")
    finally:
        w.close()


def bench_page(c):
    w = c.window("--forget", name="bench")
    try:
        w.keys("n")
        w.click("bench/next")
        w.write("bench/division", "100")
        w.write("bench/u", "0.15")
        w.write("bench/certificate", "C-2041")
        w.click("bench/next")
        for axis in "xy":
            w.write("bench/picture", str(c.source / f"calibration/demo-stage-micrometer-{axis}.png"))
            w.keys("Return")
            time.sleep(0.4)
        w.click("bench step/4")
        for field, text in (("by", "A. Measurer"), ("id", "bench2-5x-2026-09"), ("folder", "records"),
                            ("due", "2027-03-01"), ("objective", "5x")):
            w.write(f"bench/{field}", text)
            w.keys("Return")
        w.click("bench/look")
        w.wait("what was found", lambda: "bench/keep" in w.state()[0])
        w.idle()
        c.save(w, "bench")
    finally:
        w.close()


def drawing_page(c):
    w = c.window(*c.order("LV-7504-good.png"), name="drawing")
    try:
        measured(w)
        w.keys("d")
        w.click("nominal/open")
        w.wait("the drawing", lambda: "nominal/text" in w.state()[0])
        w.idle()
        x, y, width, height = w.state()[0]["face"]
        w.tool("mousemove", int(x + 0.5 * width), int(y + 0.7 * height))
        time.sleep(0.3)
        w.tool("click", 1)
        time.sleep(1)
        c.save(w, "drawing")
    finally:
        w.close()


def main():
    parser = argparse.ArgumentParser()
    for name in ("--gui", "--cutface", "--source"):
        parser.add_argument(name, required=True)
    parser.add_argument("--out", default="sample-images/window")
    parser.add_argument("--only", nargs="*", help="pictures to keep; default: all")
    parser.add_argument("--pages", nargs="*", default=["face", "run", "bench", "drawing"])
    args = parser.parse_args()
    pathlib.Path(args.out).mkdir(parents=True, exist_ok=True)
    # Paths can be read in the pictures: they are of a folder that could be anybody's.
    folder = pathlib.Path(tempfile.gettempdir()) / "LV-7504"
    folder.mkdir()
    for name in ("sample-images", "calibration"):
        shutil.copytree(pathlib.Path(args.source) / name, folder / name)
    args.source = folder
    display = window_run.Display()
    try:
        camera = Camera(args, display, folder)
        if "face" in args.pages:
            words = camera.order("LV-7504-thin-septum.png")
            words[words.index("--out") + 1] = folder / "line"
            subprocess.run([args.cutface, "measure", *words], capture_output=True, check=False)
            face_pages(camera)
        if "run" in args.pages:
            pictures = camera.source / "sample-images/first-article"
            subprocess.run([args.cutface, "batch", pictures, "--manifest", pictures / "manifest.csv", "--design",
                            camera.source / "sample-images/LV-7504.design.json", "--calibration",
                            camera.source / "calibration", "--inspector", "A. Measurer", "--out", folder / "run"],
                           capture_output=True, check=False)
            run_pages(camera)
        if "bench" in args.pages:
            bench_page(camera)
        if "drawing" in args.pages:
            drawing_page(camera)
    finally:
        display.close()
        shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    main()
