#!/usr/bin/env python3
"""Surveys real discs and measures their photographs with the drawings so drafted, and back.

usage: real_images.py [--cutface PROGRAM] [--images FOLDER] [--out FOLDER]

FOLDER is the set of pictures with `ct-multilumen` in it (X-ray slices and photographs of acrylic
discs of 70 mm, Helsinki Tomography Challenge 2022, CC BY 4.0, DOI 10.5281/zenodo.8041800) and
`reference_from_masks_holes.csv` (sizes of the holes in the authors' own segmentations). It is not
part of this project: without it the script says so and leaves with status 77 (skipped).
A photograph has another scale than the slice of its disc; its diameters are compared after scaling
by the ratio of the two outlines.
"""
import argparse
import csv
import json
import math
import pathlib
import subprocess
import sys
import tempfile

PITCH_UM = 148.3223173
SIDE_PX = 512
ALLOWED_PX = 1.5
SKIPPED = 77
ROOT = pathlib.Path(__file__).resolve().parents[2]


def calibration(folder):
    path = folder / "slices.calibration.json"
    path.write_text(json.dumps({
        "format": "cutface/calibration", "version": 1, "id": "slices",
        "image_size_px": [SIDE_PX, SIDE_PX], "pixel_pitch_um": [PITCH_UM, PITCH_UM],
        "pitch_u_um": [0.05, 0.05]}))
    return path


def run(call):
    done = subprocess.run([str(c) for c in call], capture_output=True, text=True, check=False)
    lines = (done.stderr.strip() or done.stdout.strip()).splitlines()
    # 1: something was not measured or proven; the result file is there all the same.
    return done.returncode in (0, 1), lines[-1] if lines else ""


def names(of):
    return tuple([of] if isinstance(of, str) else of)


def size_and_centre(contour):
    area = x_sum = y_sum = 0.0
    for (x, y), (u, v) in zip(contour, contour[1:] + contour[:1]):
        cross = x * v - u * y
        area += cross / 2
        x_sum += (x + u) * cross / 6
        y_sum += (y + v) * cross / 6
    return 2 * math.sqrt(abs(area) / math.pi) / PITCH_UM, (x_sum / area / PITCH_UM,
                                                           y_sum / area / PITCH_UM)


def read_result(path):
    """Outline diameter and {name: (diameter, centre)} in px of the picture; names not found apart."""
    features = json.loads(path.read_text())["features"]
    found, missing = {}, []
    for name, lumen in features["lumens"].items():
        if lumen["state"] in ("open", "filled") and len(lumen["contour_um"]) > 5:
            found[name] = size_and_centre(lumen["contour_um"])
        else:
            missing.append(f"{name} {lumen['state']}")
    return size_and_centre(features["outline"]["contour_um"])[0], found, missing


def reference(folder):
    discs = {}
    with open(folder / "reference_from_masks_holes.csv", encoding="utf-8") as rows:
        for row in csv.DictReader(rows):
            disc = discs.setdefault(row["image"], {"holes": []})
            size = float(row["equiv_diameter_px"])
            if row["object"] == "disc":
                disc["size"] = size
            else:
                disc["holes"].append((size, (float(row["centroid_x_px"]),
                                             float(row["centroid_y_px"]))))
    return discs


def in_slice(found, disc):
    """{name: diameter of the reference hole at its place}."""
    near = {}
    for name, (_, at) in found.items():
        size, centre = min(disc["holes"], key=lambda h: math.dist(h[1], at), default=(0, (0, 0)))
        if math.dist(centre, at) < 3:
            near[name] = size
    return near


def report(task, disc, outcome, by_name=None):
    """One line of the table; True when all holes are there within ALLOWED_PX."""
    outline, found, missing = outcome
    scale = disc["size"] / outline
    if by_name is None:  # in the slice's own pixels: by place
        by_name, scale = in_slice(found, disc), 1
    errors = [found[n][0] * scale - by_name[n] for n in by_name if n in found]
    worst = max(map(abs, errors), default=0)
    holes = len(disc["holes"])
    good = len(errors) == holes == len(found) and worst <= ALLOWED_PX
    print(f"{task:38s} {len(found):3d} of {holes:2d}  {outline:7.2f} {disc['size']:7.2f}  "
          f"{worst:6.2f}  {'ok' if good else 'NOT OK'}  {', '.join(missing)}")
    return good


class Bench:
    def __init__(self, program, images, out):
        self.program, self.images, self.out = program, images, out
        self.calibration = calibration(out)

    def survey(self, picture):
        draft = self.out / f"{picture.stem}.design.json"
        draft.unlink(missing_ok=True)
        ok, line = run([self.program, "survey", picture, "--calibration", self.calibration,
                        "--draft-design", draft, "--out", self.out])
        return (read_result(self.out / f"{picture.stem}.result.json"), draft) if ok else (line, None)

    def measure(self, picture, draft):
        folder = self.out / f"by-{draft.stem.split('.')[0]}"
        folder.mkdir(exist_ok=True)
        ok, line = run([self.program, "measure", picture, "--design", draft, "--section", "draft",
                        "--calibration", self.calibration, "--out", folder])
        return read_result(folder / f"{picture.stem}.result.json") if ok else line


def photo_names(photo, found_by_slice, in_reference):
    """Reference sizes for the photograph's own names, through the slice measured with its draft."""
    return {n: in_reference[n] for n in photo if n in found_by_slice and n in in_reference}


def disc_rows(bench, name, disc):
    """All rows of one disc; the number that are not ok."""
    slice_file = bench.images / f"{name}_recon_fbp.png"
    photo_file = bench.images / f"{name}_photo.png"
    surveyed, draft = bench.survey(slice_file)
    if draft is None:
        print(f"{name + ': survey slice':38s} FAILED: {surveyed}")
        return 1
    bad = not report(f"{name}: survey slice", disc, surveyed)
    if not photo_file.exists():
        return int(bad)
    by_name = in_slice(surveyed[1], disc)
    measured = bench.measure(photo_file, draft)
    if isinstance(measured, str):
        print(f"{name + ': photo by that draft':38s} FAILED: {measured}")
        bad += 1
    else:
        bad += not report(f"{name}: photo by that draft", disc, measured, by_name)
    photo, photo_draft = bench.survey(photo_file)
    if photo_draft is None:
        print(f"{name + ': survey photo':38s} FAILED: {photo}")
        return bad + 1
    back = bench.measure(slice_file, photo_draft)
    if isinstance(back, str):
        print(f"{name + ': survey photo':38s} {len(photo[1]):3d} of {len(disc['holes']):2d}")
        print(f"{name + ': slice by that draft':38s} FAILED: {back}")
        return bad + 1
    bad += not report(f"{name}: survey photo", disc, photo,
                      photo_names(photo[1], back[1], in_slice(back[1], disc)))
    bad += not report(f"{name}: slice by that draft", disc, back)
    return bad


def main():
    options = argparse.ArgumentParser(description=__doc__,
                                      formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--cutface", type=pathlib.Path,
                         default=ROOT / "build/release/src/cli/cutface")
    options.add_argument("--images", type=pathlib.Path,
                         default=ROOT.parent / "shared/real-images")
    options.add_argument("--out", type=pathlib.Path)
    call = options.parse_args()
    images = call.images / "ct-multilumen"
    if not (images / "reference_from_masks_holes.csv").exists():
        print(f"skipped: no pictures in {images}; name their folder with --images")
        return SKIPPED
    if not call.cutface.exists():
        print(f"{call.cutface}: no such program; build it, or name it with --cutface")
        return 2
    with tempfile.TemporaryDirectory() as scratch:
        out = call.out or pathlib.Path(scratch)
        out.mkdir(parents=True, exist_ok=True)
        bench = Bench(call.cutface, images, out)
        print(f"{'disc':38s} {'holes':>9s}  {'outline':>7s} {'mask':>7s}  {'worst':>6s}  (px)")
        bad = sum(disc_rows(bench, name, disc) for name, disc in sorted(reference(images).items()))
        print(f"{bad} rows not ok (every hole, diameters within {ALLOWED_PX} px)")
        return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
