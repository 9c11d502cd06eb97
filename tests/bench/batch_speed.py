#!/usr/bin/env python3
"""How fast a batch is: pictures of 5 megapixels on one worker and on two, memory, and a rerun.

usage: batch_speed.py PROGRAM MAKE_SAMPLES [--faces 200] [--different 20] [--unchanged 1000]

Faces beyond --different are copies under other names, which the program cannot know: it measures each. Peak memory is
what the system says of the child (ru_maxrss); "working image" is the picture's 8-bit pixels. To be run on a machine
that does nothing else.
"""
import argparse
import json
import os
import pathlib
import re
import resource
import shutil
import subprocess
import tempfile
import time

parser = argparse.ArgumentParser()
parser.add_argument("program", type=pathlib.Path)
parser.add_argument("make_samples", type=pathlib.Path)
parser.add_argument("--faces", type=int, default=200)
parser.add_argument("--different", type=int, default=20)
parser.add_argument("--unchanged", type=int, default=1000)
parser.add_argument("--samples", type=pathlib.Path, default=pathlib.Path(__file__).resolve().parents[2] / "sample-images")
MEGAPIXELS = 2592 * 1944 / 1e6


def timed(call):
    """Wall seconds, CPU seconds and peak bytes of one child, and what it printed."""
    begun = time.monotonic()
    with subprocess.Popen(call, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True) as child:
        text = child.stdout.read()
        _, status, usage = os.wait4(child.pid, 0)
        child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode not in (0, 1):
        raise SystemExit(f"{call}: status {child.returncode}\n{text}")
    return time.monotonic() - begun, usage.ru_utime + usage.ru_stime, usage.ru_maxrss * 1024, text


def main():
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        subprocess.run([args.make_samples, "--large", folder / "made", str(args.different), args.samples / "LV-7504.design.json"],
                       check=True)
        (folder / "in").mkdir()
        made = sorted((folder / "made").glob("*.png"))
        for i in range(args.faces):
            shutil.copy(made[i % len(made)], folder / "in" / f"face-{i:04}.png")
        call = [args.program, "batch", folder / "in", "--design", args.samples / "LV-7504.design.json", "--section", "extrusion",
                "--calibration", folder / "made" / "large.calibration.json"]
        seconds = {}
        for jobs in (1, 2):
            out = folder / f"out{jobs}"
            wall, cpu, peak, _ = timed(call + ["--out", out, "--jobs", str(jobs)])
            seconds[jobs] = wall
            measured = sum(f["state"] == "measured" for f in json.loads((out / "run.json").read_text())["faces"])
            print(f"{jobs} at a time: {args.faces} faces of {MEGAPIXELS:.1f} MP, {measured} measured, {wall:.1f} s "
                  f"({wall / args.faces:.3f} s a face, CPU {cpu:.1f} s), peak {peak / 2**20:.0f} MiB", flush=True)
        print(f"two against one: {seconds[1] / seconds[2]:.2f} times as fast")
        same = all(re.sub(r'"time": "[^"]*"', "", (folder / "out1" / p.name).read_text()) ==
                   re.sub(r'"time": "[^"]*"', "", p.read_text()) for p in (folder / "out2").glob("*.result.json"))
        print("results of both, but for the time:", "the same" if same else "DIFFERENT")

        # A folder in which nothing is new.
        (folder / "many").mkdir()
        small = sorted(args.samples.glob("LV-7504-*.png"))[0]
        for i in range(args.unchanged):
            shutil.copy(small, folder / "many" / f"{i:05}.png")
        again = [args.program, "batch", folder / "many", "--design", args.samples / "LV-7504.design.json", "--section", "extrusion",
                 "--calibration", args.samples.parent / "calibration" / "demo-bench-5x.calibration.json", "--out", folder / "outm",
                 "--no-pictures", "--jobs", "2"]
        wall, _, _, _ = timed(again)
        print(f"{args.unchanged} faces of 1.9 MP, results only: {wall:.1f} s")
        time.sleep(3)  # the times of the last files settle
        timed(again)
        walls = [timed(again)[0] for _ in range(3)]
        print(f"{args.unchanged} unchanged faces: {min(walls):.2f} to {max(walls):.2f} s")


if __name__ == "__main__":
    main()
