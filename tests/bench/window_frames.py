#!/usr/bin/python3
"""Frame times of the window on a virtual display with software rendering: a picture of so many megapixels is
opened, then dragged and zoomed with the mouse; prints median, 95 % and greatest time of a frame while it moves, and
what it took of the processors: the window's own thread, and all threads with the software renderer's. On a machine
that does other things the processor times are the ones to compare.

With --source the picture is the demo face, enlarged and measured, with all its marks drawn.

usage: window_frames.py --gui PROGRAM [--megapixels 24 400] [--source FOLDER] [--keep FOLDER]
"""
import argparse
import json
import pathlib
import re
import statistics
import sys
import tempfile
import time

import numpy
from PIL import Image

sys.path.insert(0, str(pathlib.Path(__file__).parent.parent / "gui"))
import window_run  # noqa: E402  (beside this folder)


def picture(megapixels, folder):
    """A bright face on a dark ground with grain, 4 to 3, as an uncompressed TIFF: made fast, read fast."""
    path = folder / f"{megapixels}mp.tif"
    width = int((megapixels * 1e6 * 4 / 3) ** 0.5)
    height = int(megapixels * 1e6 / width)
    rows = numpy.arange(height, dtype=numpy.float32)[:, None] - height / 2
    tones = numpy.empty((height, width), numpy.uint8)
    grain = numpy.random.default_rng(1).integers(0, 12, (height, 512), dtype=numpy.uint8)
    for x in range(0, width, 512):
        columns = numpy.arange(x, min(width, x + 512), dtype=numpy.float32)[None, :] - width / 2
        inside = columns**2 + rows**2 < (0.4 * height) ** 2
        tones[:, x:x + 512] = numpy.where(inside, 170, 60) + grain[:, :columns.shape[1]]
    Image.MAX_IMAGE_PIXELS = None
    Image.fromarray(tones).save(path)
    return path


def face(megapixels, folder, source):
    """The demo face so much larger, and its bench so much finer; with the words to measure it."""
    demo = Image.open(source / "sample-images/LV-7504-good.png")
    times = (megapixels * 1e6 / (demo.width * demo.height)) ** 0.5
    size = (round(demo.width * times), round(demo.height * times))
    Image.MAX_IMAGE_PIXELS = None
    demo.resize(size, Image.Resampling.BICUBIC).save(folder / "face.tif")
    record = json.loads((source / "calibration/demo-bench-5x.calibration.json").read_text(encoding="utf-8"))
    record["image_size_px"] = list(size)
    record["pixel_pitch_um"] = [v * demo.width / size[0] for v in record["pixel_pitch_um"]]
    record["distortion"]["centre_px"] = [(v - 1) / 2 for v in size]
    (folder / "face.calibration.json").write_text(json.dumps(record), encoding="utf-8")
    return ["--design", source / "sample-images/LV-7504.design.json", "--section", "extrusion", "--calibration",
            folder / "face.calibration.json", "--taken", "2026-04-01", folder / "face.tif"]


def frames(window, start):
    text = (window.log_path).read_text(encoding="utf-8")[start:]
    form = r"frame ([0-9.]+) ms, prepared ([0-9.]+), built ([0-9.]+), own CPU ([0-9.]+), all CPU ([0-9.]+)"
    return [tuple(float(v) for v in found) for found in re.findall(form, text)]


def middle_and_most(values):
    values = sorted(values)
    return f"median {statistics.median(values):.1f} ms, 95 % {values[int(0.95 * (len(values) - 1))]:.1f} ms"


def measure(args, megapixels, folder, display):
    words = face(megapixels, folder, pathlib.Path(args.source)) if args.source else [picture(megapixels, folder)]
    began = time.time()
    window = window_run.Window(args.gui, display, folder, ["--forget", "--frame-times", *words])
    window.log_path = folder / "log.txt"
    try:
        if args.source:
            window.wait("the verdict", lambda: window.word("verdict word") != "")
        window.wait("the picture", lambda: window.word("busy") == "0" and "face/fit" in window.state()[0])
        opened = time.time() - began
        x, y, width, height = window.state()[0]["face"]
        middle = (int(x + width / 2), int(y + height / 2))
        window.tool("mousemove", *middle)
        time.sleep(1)
        start = window.log_path.stat().st_size
        for _ in range(12):
            window.tool("click", 4)
            time.sleep(0.05)
        window.tool("mousedown", 1)
        for step in range(60):
            window.tool("mousemove", middle[0] + 6 * (step % 30), middle[1] + 4 * (step % 25))
        window.tool("mouseup", 1)
        for _ in range(12):
            window.tool("click", 5)
            time.sleep(0.05)
        time.sleep(1)
        window.log.flush()
        times = frames(window, start)
    finally:
        window.close()
    wall, prepared, built, own, everything = zip(*times)
    print(f"{megapixels} MP: shown after {opened:.1f} s; {len(times)} frames while moving: {middle_and_most(wall)}, "
          f"greatest {max(wall):.1f} ms\n"
          f"  getting ready: {middle_and_most(prepared)}; building the frame: {middle_and_most(built)}\n"
          f"  processor time, own thread: {middle_and_most(own)}; all threads: {middle_and_most(everything)}")


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--gui", required=True)
    parser.add_argument("--megapixels", type=int, nargs="+", default=[24, 400])
    parser.add_argument("--source", help="the project: the demo face is measured and drawn")
    parser.add_argument("--keep")
    args = parser.parse_args()
    folder = pathlib.Path(args.keep or tempfile.mkdtemp(prefix="cutface-frames-"))
    folder.mkdir(parents=True, exist_ok=True)
    display = window_run.Display()
    try:
        for megapixels in args.megapixels:
            measure(args, megapixels, folder, display)
    finally:
        display.close()


if __name__ == "__main__":
    main()
