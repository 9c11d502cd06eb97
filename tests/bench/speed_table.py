#!/usr/bin/python3
"""Time by stage and size, side by side with the scikit-image pipeline on the same pictures.

usage: speed_table.py BENCH_SPEED DIR [--megapixels 1 5 24 100] [--lumens 4 16 64] [--rounds 3] [--baseline-up-to 24]
                      [--tiff 400] [--json FILE] [--readme FILE]

Draws the faces into DIR where they are not there (bench_speed make), measures each in a process of its own, and runs
skimage_pipeline.py's measurement on the same picture in another. Seconds are processor time on one thread, because the
machine may be shared, but for the column of two cores, which is wall time; the rest of the wall times stands in the JSON. `analysis` is everything between the decoded picture and the finished result,
intervals and verdicts included, without the annotated picture. A size named by --tiff is measured from a tiled BigTIFF
(TIFF 6.0, 64-bit offsets) written from the same pixels. --readme writes the table between the marks in that file.
"""
import argparse
import json
import os
import pathlib
import subprocess
import sys
import time

HERE = pathlib.Path(__file__).resolve().parent
BEGIN, END = "<!-- speed:begin -->", "<!-- speed:end -->"


def child(call):
    """What a child printed, its processor and wall seconds, and its peak memory in MiB; None when it failed."""
    begun = time.monotonic()
    with subprocess.Popen([str(part) for part in call], stdout=subprocess.PIPE, text=True) as process:
        text = process.stdout.read()
        _, status, usage = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode != 0:
        return None
    return {"text": text, "cpu": usage.ru_utime + usage.ru_stime, "wall": time.monotonic() - begun,
            "mib": usage.ru_maxrss / 1024}


BASELINE = """
import json, sys, time
sys.path.insert(0, sys.argv[1])
import skimage_pipeline
begun = time.process_time()
result = skimage_pipeline.measure_face(sys.argv[2], sys.argv[2] + ".png", "face")
print(json.dumps({"cpu": time.process_time() - begun, "measurements": len(result["measurements"])}))
"""


def tiled_tiff(stem):
    """The picture as a tiled BigTIFF beside it."""
    import numpy as np
    import tifffile
    from PIL import Image
    path = pathlib.Path(f"{stem}.tif")
    if not path.exists():
        Image.MAX_IMAGE_PIXELS = None
        tifffile.imwrite(path, np.asarray(Image.open(f"{stem}.png")), bigtiff=True, tile=(512, 512), compression="zlib")
    return path


def measure(options, megapixels, lumens):
    stem = options.folder / f"speed-{megapixels:g}-{lumens}"
    if child([options.bench, "make", options.folder, megapixels, lumens]) is None:
        raise SystemExit(f"{stem}: could not be drawn")
    call = [options.bench, "measure", options.folder, megapixels, lumens, options.rounds]
    if megapixels in options.tiff:
        call.append(tiled_tiff(stem))
    own = child(call)
    if own is None:
        return {"megapixels": megapixels, "lumens": lumens, "failed": True}
    row = json.loads(own["text"])
    row.update(megapixels=megapixels, lumens=lumens, file="BigTIFF" if megapixels in options.tiff else "PNG")
    seconds = row["seconds"]
    row["analysis_cpu"] = seconds["finding the face"]["cpu"] + seconds["measuring"]["cpu"]
    row["of_decoding"] = row["analysis_cpu"] / seconds["decode"]["cpu"]
    on_two = row["seconds_on_two_cores"]
    row["analysis_wall_on_two"] = on_two["finding the face"]["wall"] + on_two["measuring"]["wall"]
    if megapixels <= options.baseline_up_to:
        other = child([sys.executable, "-c", BASELINE, HERE, stem])
        if other is not None:
            row["baseline"] = {**json.loads(other["text"]), "mib": other["mib"]}
            row["times_baseline"] = row["baseline"]["cpu"] / (row["analysis_cpu"] + seconds["decode"]["cpu"])
    return row


def table(rows):
    lines = ["| MP | lumens | decode | find and settle | measure | picture | analysis / decode | analysis on two cores | scikit-image | times as fast | peak MiB |",
             "| --: | --: | --: | --: | --: | --: | --: | --: | --: | --: | --: |"]
    for row in rows:
        if row.get("failed"):
            lines.append(f"| {row['megapixels']:g} | {row['lumens']} | not measured | | | | | | | | |")
            continue
        s = {name: value["cpu"] for name, value in row["seconds"].items()}
        base = f"{row['baseline']['cpu']:.2f}" if "baseline" in row else ""
        times = f"{row['times_baseline']:.1f}" if "baseline" in row else ""
        size = f"{row['megapixels']:g}" + (" (BigTIFF, tiled)" if row["file"] == "BigTIFF" else "")
        lines.append(f"| {size} | {row['lumens']} | {s['decode']:.3f} | {s['finding the face']:.3f} | {s['measuring']:.3f} "
                     f"| {s['picture']:.3f} | {row['of_decoding']:.1f} | {row['analysis_wall_on_two']:.3f} | {base} | {times} | {row['peak_mib']:.0f} |")
    return "\n".join(lines)


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("bench", type=pathlib.Path)
    parser.add_argument("folder", type=pathlib.Path)
    parser.add_argument("--megapixels", type=float, nargs="+", default=[1, 5, 24, 100])
    parser.add_argument("--lumens", type=int, nargs="+", default=[4, 16, 64])
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--baseline-up-to", type=float, default=24)
    parser.add_argument("--tiff", type=float, nargs="*", default=[])
    parser.add_argument("--json", type=pathlib.Path)
    parser.add_argument("--readme", type=pathlib.Path)
    options = parser.parse_args()
    options.folder.mkdir(parents=True, exist_ok=True)
    options.bench = options.bench.resolve()
    rows = []
    for megapixels in options.megapixels:
        for lumens in options.lumens:
            rows.append(measure(options, megapixels, lumens))
            print(table(rows[-1:]).splitlines()[-1], flush=True)
    if options.json:
        options.json.write_text(json.dumps(rows, indent=1) + "\n", encoding="utf-8")
    if options.readme:
        text = options.readme.read_text(encoding="utf-8")
        head, rest = text.split(BEGIN)
        options.readme.write_text(f"{head}{BEGIN}\n{table(rows)}\n{END}{rest.split(END)[1]}", encoding="utf-8")


if __name__ == "__main__":
    main()
