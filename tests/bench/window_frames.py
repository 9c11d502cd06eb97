#!/usr/bin/env python3
"""Frame times of the window on a virtual display with software rendering: a picture of so many megapixels is
opened, then dragged and zoomed with the mouse; prints median, 95 % and greatest time of a frame while it moves.

usage: window_frames.py --gui PROGRAM [--megapixels 24 400] [--keep FOLDER]
"""
import argparse
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


def frames(window, start):
    text = (window.log_path).read_text(encoding="utf-8")[start:]
    return [float(v) for v in re.findall(r"frame ([0-9.]+) ms", text)]


def measure(args, megapixels, folder, display):
    path = picture(megapixels, folder)
    began = time.time()
    window = window_run.Window(args.gui, display, folder, ["--forget", "--frame-times", path])
    window.log_path = folder / "log.txt"
    try:
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
        times = sorted(frames(window, start))
    finally:
        window.close()
    p95 = times[int(0.95 * (len(times) - 1))]
    print(f"{megapixels} MP: shown after {opened:.1f} s; {len(times)} frames while moving: median "
          f"{statistics.median(times):.1f} ms, 95 % {p95:.1f} ms, greatest {times[-1]:.1f} ms")


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--gui", required=True)
    parser.add_argument("--megapixels", type=int, nargs="+", default=[24, 400])
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
