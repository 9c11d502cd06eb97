#!/usr/bin/env python3
"""Times cutface compare on many results and tells the memory it took.

usage: compare_speed.py CUTFACE RESULT [--count 10000] [--folder DIR] [--design D]

RESULT is a result file of one face; COUNT copies of it, each with a serial number, a picture hash and
values of its own, are written into DIR (kept when named) and compared. Files are in the page cache
then: what is timed is reading, parsing and computing, not the disk.
"""
import argparse
import hashlib
import json
import pathlib
import random
import resource
import subprocess
import sys
import tempfile
import time


def write_results(result, count, folder):
    """Copies that differ where compare looks; contours stay, as text."""
    chance = random.Random(1)
    text = pathlib.Path(result).read_text(encoding="utf-8")
    whole = json.loads(text)
    head = {key: value for key, value in whole.items() if key not in ("features", "measurements")}
    rest = {key: whole[key] for key in ("features", "measurements")}
    rest = json.dumps(rest)[1:]
    for no in range(count):
        copy = json.loads(json.dumps(head))
        copy["sample"]["serial"] = f"S{no:05d}"
        copy["sample"]["taken"] = f"2026-04-{1 + no // 1440 % 28:02d}T{no // 60 % 24:02d}:{no % 60:02d}"
        copy["image"]["sha256"] = hashlib.sha256(str(no).encode()).hexdigest()
        for row in copy["characteristics"]:
            if row.get("actual") is None:
                continue
            step = chance.gauss(0, 0.003) * abs(row["actual"])
            for key in ("actual", "lo", "hi"):
                if row.get(key) is not None:
                    row[key] += step
        (folder / f"S{no:05d}.result.json").write_text(json.dumps(copy)[:-1] + ", " + rest,
                                                       encoding="utf-8")


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("cutface")
    parser.add_argument("result")
    parser.add_argument("--count", type=int, default=10000)
    parser.add_argument("--folder")
    parser.add_argument("--design")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        folder = pathlib.Path(given.folder or scratch) / "results"
        if not folder.is_dir() or len(list(folder.iterdir())) != given.count:
            folder.mkdir(parents=True, exist_ok=True)
            write_results(given.result, given.count, folder)
        size = sum(file.stat().st_size for file in folder.iterdir())
        call = [given.cutface, "compare", str(folder), "--out", str(pathlib.Path(scratch) / "out")]
        if given.design:
            call += ["--design", given.design]
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        start = time.monotonic()
        done = subprocess.run(call, stdout=subprocess.DEVNULL, check=False)
        seconds = time.monotonic() - start
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
        print(f"{given.count} results, {size / 1e9:.2f} GB: {seconds:.2f} s, CPU {cpu:.2f} s, "
              f"{after.ru_maxrss / 1e6:.3f} GB, exit {done.returncode}")
    return 0 if done.returncode in (0, 1) else 1


if __name__ == "__main__":
    sys.exit(main())
