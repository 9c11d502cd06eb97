#!/usr/bin/python3
"""One picture of many results: a face for each family and light, measured contours over the known ones.

    tests/bench/contact_sheet.py FACES/hard --out sheet.png [--results out]

Known contours are dashed white on black, measured outline and lumens solid cyan and yellow, voids magenta; a face
without a result says so. For looking at, not for counting: score.py counts.
"""

import argparse
import json
import pathlib

from PIL import Image, ImageDraw

TILE = (400, 300)


def ring(draw, points, colour, dashed=False):
    points = [tuple(p) for p in points]
    if len(points) < 3:
        return
    closed = points + points[:1]
    if not dashed:
        draw.line(closed, fill=colour, width=2)
        return
    for k in range(0, len(closed) - 1, 12):
        draw.line(closed[k:k + 7], fill=colour, width=2)


def load(path):
    image = Image.open(path)
    if image.mode not in ("L", "RGB"):
        image = image.point(lambda v: v / 256).convert("L")
    return image.convert("RGB")


def tile(folder, name, results):
    truth = json.loads((folder / f"{name}.truth.json").read_text())
    image = load(folder / f"{name}.png")
    draw = ImageDraw.Draw(image)
    known = [truth["outline"]] + list(truth["lumens"].values()) + truth["voids"]
    for feature in known:
        ring(draw, feature.get("contour_px") or [], "black")
        ring(draw, feature.get("contour_px") or [], "white", dashed=True)
    path = folder / results / f"{name}.result.json"
    label = f"{name}  {truth['family']}, {truth['light']}"
    if path.exists():
        pitch = json.loads((folder / f"{name}.calibration.json").read_text())["pixel_pitch_um"]
        features = json.loads(path.read_text())["features"]

        def px(contour):
            return [(x / pitch[0], y / pitch[1]) for x, y in contour]

        ring(draw, px((features.get("outline") or {}).get("contour_um") or []), "cyan")
        for lumen in features["lumens"].values():
            ring(draw, px(lumen.get("contour_um") or []), "yellow")
        for void in features["voids"]:
            ring(draw, px(void["contour_um"]), "magenta")
    else:
        label += "  NO RESULT"
    image.thumbnail((TILE[0], TILE[1] - 14))
    framed = Image.new("RGB", TILE, "black")
    framed.paste(image, (0, 14))
    ImageDraw.Draw(framed).text((2, 1), label, fill="white")
    return framed


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=pathlib.Path)
    parser.add_argument("--out", type=pathlib.Path, required=True)
    parser.add_argument("--results", default="out")
    options = parser.parse_args()
    first = {}
    for path in sorted(options.folder.glob("*.truth.json")):
        truth = json.loads(path.read_text())
        first.setdefault((truth["family"], truth["light"]), path.name[: -len(".truth.json")])
    if not first:
        parser.error(f"{options.folder}: no *.truth.json there")
    families = sorted({family for family, _ in first})
    lights = sorted({light for _, light in first})
    sheet = Image.new("RGB", (TILE[0] * len(lights), TILE[1] * len(families)), "black")
    for (family, light), name in first.items():
        place = (TILE[0] * lights.index(light), TILE[1] * families.index(family))
        sheet.paste(tile(options.folder, name, options.results), place)
    sheet.save(options.out)
    print(f"{options.out}: {len(first)} faces, {len(families)} families x {len(lights)} lights")


if __name__ == "__main__":
    main()
