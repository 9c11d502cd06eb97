#!/usr/bin/python3
"""Runs `cutface measure` over every face of a folder and keeps exit status, stderr and wall time.

    run_faces.py DIR --cutface PATH [--jobs 1] [--timeout 60] [--only GLOB] [--out out]

Results go to DIR/out; DIR/out/runs.json says for each face how the run went:
{"NAME": {"status": 0, "seconds": 0.41, "cpu_seconds": 0.38, "stderr": "", "timed_out": false}, ...}.
A face's older outputs are removed first, so that a run that fails cannot be scored by an old result.
Wall times are only comparable with --jobs 1 on an otherwise idle machine.
"""

import argparse
import concurrent.futures
import fnmatch
import json
import os
import subprocess
import sys
import tempfile
import threading
import time

from faces import find_faces


def remove_outputs(out, name):
    for ending in (".result.json", ".png"):
        try:
            os.remove(os.path.join(out, name + ending))
        except FileNotFoundError:
            pass


def measure(cutface, folder, name, truth, out, options):
    """One face through the command line; never raises for what the program does."""
    remove_outputs(out, name)
    stem = os.path.join(folder, name)
    command = [
        cutface, "measure", os.path.join(folder, truth.get("image", name + ".png")),
        "--design", stem + ".design.json", "--section", truth.get("section", "face"),
        "--calibration", stem + ".calibration.json", "--out", out, "--u-floor", "0",
    ]
    with tempfile.TemporaryFile() as errors:
        begin = time.perf_counter()
        child = subprocess.Popen(command + options.extra, stdin=subprocess.DEVNULL,
                                 stdout=subprocess.DEVNULL, stderr=errors)
        stopped = threading.Event()

        def stop():
            stopped.set()
            child.kill()

        timer = threading.Timer(options.timeout, stop)
        timer.start()
        _, wait_status, usage = os.wait4(child.pid, 0)
        timer.cancel()
        child.returncode = os.waitstatus_to_exitcode(wait_status)  # negative: ended by a signal
        seconds = time.perf_counter() - begin
        errors.seek(0)
        stderr = errors.read().decode("utf-8", "replace").strip()
    return {"status": child.returncode, "seconds": round(seconds, 4),
            "cpu_seconds": round(usage.ru_utime + usage.ru_stime, 4),
            "stderr": stderr[:2000], "timed_out": stopped.is_set()}


def run_folder(folder, faces, options):
    out = os.path.join(folder, options.out)
    os.makedirs(out, exist_ok=True)
    log_path = os.path.join(out, "runs.json")
    runs = {}
    if os.path.exists(log_path):  # a run over some faces keeps what is known of the others
        with open(log_path, encoding="utf-8") as file:
            runs = json.load(file)
    with concurrent.futures.ThreadPoolExecutor(options.jobs) as pool:
        jobs = {
            pool.submit(measure, options.cutface, folder, name, truth, out, options): name
            for name, truth in faces
        }
        for count, job in enumerate(concurrent.futures.as_completed(jobs), 1):
            runs[jobs[job]] = job.result()
            if sys.stderr.isatty():
                print(f"\r{folder}: {count}/{len(jobs)}", end="", file=sys.stderr)
    if sys.stderr.isatty():
        print(file=sys.stderr)
    with open(log_path, "w", encoding="utf-8") as file:
        json.dump(dict(sorted(runs.items())), file, indent=1)
    return [runs[name] for name, _ in faces]


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("folders", nargs="+", metavar="DIR")
    parser.add_argument("--cutface", required=True, help="the program")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--timeout", type=float, default=60.0, help="seconds a face may take")
    parser.add_argument("--only", default="*", help="glob on the faces' names")
    parser.add_argument("--out", default="out", help="folder of results inside DIR")
    parser.add_argument("--extra", nargs=argparse.REMAINDER, default=[],
                        help="the rest of the line goes to cutface")
    options = parser.parse_args()
    if not os.access(options.cutface, os.X_OK):
        parser.error(f"{options.cutface}: no such program; build the target cutface first")
    options.cutface = os.path.abspath(options.cutface)
    begin = time.perf_counter()
    total = []
    for folder in options.folders:
        faces = [(n, t) for _, n, t in find_faces([folder]) if fnmatch.fnmatch(n, options.only)]
        total += run_folder(folder, faces, options)
    states = {}
    for run in total:
        key = "timed out" if run["timed_out"] else f"exit {run['status']}"
        states[key] = states.get(key, 0) + 1
    print(f"{len(total)} faces in {time.perf_counter() - begin:.1f} s: "
          + ", ".join(f"{n} {k}" for k, n in sorted(states.items())))


if __name__ == "__main__":
    main()
