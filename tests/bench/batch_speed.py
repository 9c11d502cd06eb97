#!/usr/bin/python3
"""How fast a batch is: pictures of 5 megapixels on one worker and on two, memory, report, records, and a rerun.

usage: batch_speed.py PROGRAM MAKE_SAMPLES [--faces 200] [--different 20] [--unchanged 1000]

Faces beyond --different are copies with a comment of their own, which the program cannot know: it measures each. Peak
memory is what the system says of the child (ru_maxrss); what a worker takes is the difference of the peaks with two and
with one. A "working image" is the picture's pixels as 32-bit numbers. Wall times need a machine that does nothing else:
the load before each measurement is printed beside it; CPU time (user and system, of all threads) hardly depends on it.
"""
import argparse
import json
import os
import pathlib
import re
import resource
import shutil
import struct
import subprocess
import tempfile
import time
import zlib

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


def variant(png, number):
    """The same picture as another file: a text chunk before the PNG's end (ISO/IEC 15948, 11.3.4.3)."""
    text = b"tEXtComment\0copy " + str(number).encode()
    end = png.rindex(b"IEND") - 4
    return png[:end] + struct.pack(">I", len(text) - 4) + text + struct.pack(">I", zlib.crc32(text)) + png[end:]


def load():
    return f"load before {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores"


def start_store(program, folder):
    """A new store of records with one engineer; where it lies."""
    (folder / "phrase").write_text("sections are cut square\n")
    subprocess.run([program, "records", "start", "--store", folder / "lab", "--by", "E. Method", "--new-passphrase-file",
                    folder / "phrase"], check=True, stdout=subprocess.DEVNULL)
    return folder / "lab"


def main():
    args = parser.parse_args()
    args.program, args.make_samples = args.program.resolve(), args.make_samples.resolve()
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        subprocess.run([args.make_samples, "--large", folder / "made", str(args.different), args.samples / "LV-7504.design.json"],
                       check=True)
        (folder / "in").mkdir()
        made = sorted((folder / "made").glob("*.png"))
        for i in range(args.faces):
            (folder / "in" / f"face-{i:04}.png").write_bytes(variant(made[i % len(made)].read_bytes(), i))
        call = [args.program, "batch", folder / "in", "--design", args.samples / "LV-7504.design.json", "--section", "extrusion",
                "--calibration", folder / "made" / "large.calibration.json"]
        seconds, cpus, peaks = {}, {}, {}
        for jobs in (1, 2):
            out = folder / f"out{jobs}"
            before = load()
            wall, cpu, peak, _ = timed(call + ["--out", out, "--jobs", str(jobs)])
            seconds[jobs], cpus[jobs], peaks[jobs] = wall, cpu, peak
            measured = sum(f["state"] == "measured" for f in json.loads((out / "run.json").read_text())["faces"])
            print(f"{jobs} at a time: {args.faces} faces of {MEGAPIXELS:.1f} MP, {measured} measured, {wall:.1f} s "
                  f"({wall / args.faces:.3f} s a face, CPU {cpu:.1f} s = {cpu / args.faces:.3f} s a face and {cpu / wall:.2f} cores), peak {peak / 2**20:.0f} MiB; {before}", flush=True)
        print(f"two against one: {seconds[1] / seconds[2]:.2f} times as fast, {cpus[2] / cpus[1]:.2f} times the CPU time")
        working = MEGAPIXELS * 1e6 * 4
        worker = peaks[2] - peaks[1]
        print(f"a worker more takes {worker / 2**20:.0f} MiB, {worker / working:.1f} working images of {working / 2**20:.0f} MiB")
        same = all(re.sub(r'"time": "[^"]*"', "", (folder / "out1" / p.name).read_text()) ==
                   re.sub(r'"time": "[^"]*"', "", p.read_text()) for p in (folder / "out2").glob("*.result.json"))
        print("results of both, but for the time:", "the same" if same else "DIFFERENT")

        # What reports and records add to that.
        before = load()
        wall, cpu, peak, _ = timed([args.program, "report", folder / "out2"])
        print(f"report of {args.faces} faces (PDF, XLSX, HTML, CSV): {wall:.1f} s, CPU {cpu:.1f} s, {cpu / cpus[2]:.1%} of the CPU "
              f"time of measuring, peak {peak / 2**20:.0f} MiB; {before}", flush=True)
        store = start_store(args.program, folder)
        shutil.rmtree(folder / "out1")
        wall, cpu, _, _ = timed(call + ["--out", folder / "out1", "--jobs", "2", "--records", store, "--inspector", "I. Measure"])
        print(f"batch with --records: CPU {cpu:.1f} s, {(cpu - cpus[2]) / cpus[2]:.1%} more than without", flush=True)
        wall, cpu, _, _ = timed(call + ["--out", folder / "out1", "--jobs", "2", "--records", store, "--inspector", "I. Measure"])
        print(f"the same again, nothing new: {wall:.2f} s, CPU {cpu:.2f} s", flush=True)

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
