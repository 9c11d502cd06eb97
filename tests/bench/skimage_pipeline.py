#!/usr/bin/python3
"""The baseline: the same quantities by a plain scikit-image pipeline.

    skimage_pipeline.py DIR... [--only GLOB] [--out skimage]

What an engineer who knows scikit-image writes in an afternoon, in good faith: smooth, find the body by
Otsu's thresholds with the drawing's size as a check, even out the light with a plane, take what
differs from the body's tone as holes, sub-pixel contours by marching squares at the half level between
the tones on either side, names by the rotation and mirror that fit the drawing's centres, sizes and
shapes best, distances by shapely. Each length is stated to +-0.71 px, half a pixel at each of its two
edges; rows of the drawing are compared with their limits as they stand.

Writes DIR/skimage/NAME.result.json (the part of the result file that score.py reads) and runs.json with
the seconds a face took in the process: reading the picture to writing the result, imports left out.
"""

import argparse
import fnmatch
import json
import math
import os
import time

import numpy as np
from scipy import ndimage
from scipy.optimize import linear_sum_assignment
from shapely.geometry import Point
from skimage import filters, io, measure, morphology, util

from faces import Nominal, find_faces, overlap, pitch_pair, polygon, read_json

SMOOTH_PX = 1.0
LEAST_REGION_PX = 4.0      # equal-area diameter of the smallest region that is looked at
HALF_WIDTH_PX = math.sqrt(0.5)
BORDER_PX = 2


class Trouble(Exception):
    """The picture could not be measured."""


def read_grey(path):
    picture = io.imread(path)
    if picture.ndim == 3:
        picture = picture[..., :3].mean(axis=2) / np.iinfo(picture.dtype).max
    return util.img_as_float(picture).astype(np.float32)


# ---- regions ------------------------------------------------------------------------------------


def largest_filled(mask, expected):
    """The component nearest to the expected area once filled, and how well it fits (0 = perfect)."""
    labels, count = ndimage.label(mask)
    if count == 0:
        return None, math.inf
    sizes = np.bincount(labels.ravel())
    best, best_cost = None, math.inf
    for label in np.argsort(sizes[1:])[::-1][:3] + 1:
        if sizes[label] < 0.05 * expected:
            continue
        box = ndimage.find_objects((labels == label).astype(np.uint8))[0]
        part = ndimage.binary_fill_holes(labels[box] == label)
        perimeter = measure.perimeter(part)
        ragged = perimeter**2 / (4 * math.pi * part.sum())
        cost = abs(math.log(part.sum() / expected)) + 0.3 * max(0.0, ragged - 1.0)
        if cost < best_cost:
            whole = np.zeros(mask.shape, bool)
            whole[box] = part
            best, best_cost = whole, cost
    return best, best_cost


def find_body(smooth, expected):
    """Mask of the part without its holes, from whichever tone class fits the drawing's size."""
    sample = smooth[::2, ::2]
    otsu = filters.threshold_otsu(sample)
    classes = [smooth > otsu, smooth < otsu]
    try:
        low, high = filters.threshold_multiotsu(sample, classes=3, nbins=128)
        classes += [smooth > low, smooth < high, (smooth > low) & (smooth < high),
                    smooth > high, smooth < low]
    except ValueError:  # fewer than three tones
        pass
    rim = np.concatenate([sample[:8].ravel(), sample[-8:].ravel(), sample[:, :8].ravel(),
                          sample[:, -8:].ravel()])
    away = np.abs(smooth - np.median(rim))  # unlike the ground, either way
    classes.append(away > filters.threshold_otsu(away[::2, ::2]))
    best, best_cost = None, math.inf
    for mask in classes:
        # Opened, so that dirt at the edge falls off; and as it is, for walls of a few pixels.
        for candidate in (morphology.binary_opening(mask, morphology.disk(2)), mask):
            body, cost = largest_filled(candidate, expected)
            if cost < best_cost:
                best, best_cost = body, cost
    if best is None or best_cost > 0.7:
        raise Trouble("[no-section] no region of the drawing's size")
    return best


def even_light(smooth, depth, wall):
    """The picture with a plane, fitted to the body's own tone, divided out.

    depth: pixels from the body's edge inwards; wall: the drawing's least wall in pixels.
    """
    ring = (depth > min(2.0, 0.3 * wall)) & (depth < 0.7 * wall)
    rows, columns = np.nonzero(depth[::4, ::4] > 2)
    tone = smooth[::4, ::4][rows, columns]
    if ring.sum() < 200 or rows.size < 200:
        return smooth
    level = np.median(smooth[ring])
    design = np.stack([np.ones(rows.size), columns, rows], 1)
    keep = np.abs(tone - level) < 0.35 * np.ptp(np.percentile(tone, [1, 99]))
    for _ in range(4):
        if keep.sum() < 50:
            return smooth
        plane = np.linalg.lstsq(design[keep], tone[keep], rcond=None)[0]
        rest = tone - design @ plane
        spread = 1.4826 * np.median(np.abs(rest[keep] - np.median(rest[keep])))
        keep = np.abs(rest) < max(3 * spread, 0.01)
    y, x = np.mgrid[: smooth.shape[0], : smooth.shape[1]]
    field = plane[0] + (plane[1] * x + plane[2] * y) / 4
    return (smooth * (level / np.clip(field, 0.3 * level, None))).astype(np.float32)


def find_holes(even, depth, wall):
    """Labels of regions inside the body that differ from its tone, and the body's tone."""
    inner = depth > min(2.5, 0.4 * wall)
    ring = inner & (depth < max(0.7 * wall, 3.5))
    tone = np.median(even[ring])
    away = np.abs(even - tone)
    spread = 1.4826 * np.median(away[ring])
    threshold = max(filters.threshold_otsu(away[inner]), 4 * spread)
    labels, _ = ndimage.label(morphology.binary_opening((away > threshold) & inner))
    return labels, tone


def half_level_contour(image, region_mask, box, body_tone):
    """The closed contour about a region at the half level between both sides, or None."""
    pad = 8
    rows = slice(max(box[0].start - pad, 0), min(box[0].stop + pad, image.shape[0]))
    columns = slice(max(box[1].start - pad, 0), min(box[1].stop + pad, image.shape[1]))
    part, mask = image[rows, columns], region_mask[rows, columns]
    core = ndimage.binary_erosion(mask, iterations=3)
    inside = np.median(part[core]) if core.sum() > 12 else part[mask][
        np.argmax(np.abs(part[mask] - body_tone))]
    ring = ndimage.binary_dilation(mask, iterations=7) & ~ndimage.binary_dilation(mask, iterations=3)
    outside = np.median(part[ring]) if ring.sum() > 12 else body_tone
    best, best_area = None, 0.0
    for line in measure.find_contours(part, (inside + outside) / 2):
        if len(line) < 8 or not np.array_equal(line[0], line[-1]):
            continue
        shape = polygon(line[:-1, ::-1] + [columns.start, rows.start])
        grown = ndimage.binary_dilation(mask, iterations=3)
        middle = line.mean(0).round().astype(int)
        touches = grown[tuple(np.clip(line[len(line) // 2].round().astype(int), 0,
                                      np.array(mask.shape) - 1))]
        if shape.area > best_area and (touches or mask[tuple(middle)]):
            best, best_area = shape, shape.area
    return best


# ---- names --------------------------------------------------------------------------------------


def turned(points, angle, flip):
    c, s = math.cos(angle), math.sin(angle)
    return (np.asarray(points) * [flip, 1]) @ np.array([[c, s], [-s, c]])


def poses_by_centres(nominal_centres, nominal_sizes, centres, sizes, radius):
    """The likeliest angles (rad) and mirrors by centres and sizes, at most six of them."""
    size_cost = np.abs(np.log(nominal_sizes[:, None] / sizes[None]))
    scored = []
    for flip in (1, -1):
        totals = np.empty(360)
        for i, angle in enumerate(np.radians(np.arange(360.0))):
            moved = turned(nominal_centres, angle, flip)
            gap = np.hypot(*(moved[:, None] - centres[None]).transpose(2, 0, 1))
            cost = np.minimum(gap / (0.25 * radius) + size_cost, 1.0)
            totals[i] = cost[linear_sum_assignment(cost)].sum()
        valley = (totals <= np.roll(totals, 1)) & (totals <= np.roll(totals, -1))
        scored += [(totals[i], math.radians(i), flip) for i in np.nonzero(valley)[0]]
    return [(angle, flip) for _, angle, flip in sorted(scored)[:6]]


def best_pose(nominal, pitch, regions, outline, poses):
    """Of several poses the one whose placed nominal lumens overlap the regions best."""
    middle, origin = outline.centroid.coords[0], nominal.outline.centroid.coords[0]
    simple = [r.simplify(0.5) for r in regions]
    best, best_score = poses[0], -1.0
    for angle, flip in poses:
        score = 0.0
        for shape in nominal.lumens.values():
            corners = (np.asarray(shape.exterior.coords) - origin) / pitch
            placed = polygon(turned(corners, angle, flip) + middle)
            score += max(overlap(placed, region) for region in simple)
        if score > best_score:
            best, best_score = (angle, flip), score
    return best


def name_regions(nominal, pitch, regions, outline):
    """{key: (names, region or None)} for every lumen of the drawing; the rest are voids."""
    names = list(nominal.lumens)
    middle = np.array(outline.centroid.coords[0])
    origin = np.array(nominal.outline.centroid.coords[0])
    nominal_centres = np.array([np.array(nominal.lumens[n].centroid.coords[0]) - origin
                                for n in names]) / pitch
    nominal_sizes = np.array([math.sqrt(nominal.lumens[n].area) for n in names]) / pitch
    if not regions:
        return {n: ([n], None) for n in names}
    centres = np.array([np.array(r.centroid.coords[0]) - middle for r in regions])
    sizes = np.array([math.sqrt(r.area) for r in regions])
    radius = math.sqrt(outline.area / math.pi)
    poses = poses_by_centres(nominal_centres, nominal_sizes, centres, sizes, radius)
    placed = turned(nominal_centres, *best_pose(nominal, pitch, regions, outline, poses))
    gap = np.hypot(*(placed[:, None] - centres[None]).transpose(2, 0, 1))
    cost = gap / (0.25 * radius) + np.abs(np.log(nominal_sizes[:, None] / sizes[None]))
    taken = {}
    for i, j in zip(*linear_sum_assignment(np.minimum(cost, 2.0))):
        if cost[i, j] < 1.2:
            taken[i] = j
    for i in set(range(len(names))) - set(taken):  # two names in one region: merged
        for j, region in enumerate(regions):
            if sizes[j] > nominal_sizes[i] and region.contains(Point(placed[i] + middle)):
                taken[i] = j
    groups = {}
    for i, j in sorted(taken.items()):
        groups.setdefault(j, []).append(names[i])
    found = {"+".join(group): (group, regions[j]) for j, group in groups.items()}
    found.update({n: ([n], None) for i, n in enumerate(names) if i not in taken})
    return found


# ---- one face -----------------------------------------------------------------------------------


def values_of(outline, lumens):
    """[(of, word, value in px or px2)] of everything that was found."""
    found = [(["outline"], outline)] if outline is not None else []
    found += [([n], shape) for n, shape in lumens.items()]
    values = []
    for of, shape in found:
        values.append((of, "equivalent_diameter", 2 * math.sqrt(shape.area / math.pi)))
        values.append((of, "area", shape.area))
        values.append((of, "perimeter", shape.exterior.length))
        circle = measure.CircleModel()
        if circle.estimate(np.asarray(shape.exterior.coords[:-1])):
            values.append((of, "diameter", 2 * circle.params[2]))
    names = list(lumens)
    for i, a in enumerate(names):
        if outline is not None:
            values.append(([a], "wall", lumens[a].exterior.distance(outline.exterior)))
        for b in names[i + 1 :]:
            values.append(([a, b], "septum", lumens[a].exterior.distance(lumens[b].exterior)))
    return values


def judge_rows(nominal, measurements):
    """Rows compared with their limits as they stand, and the worst of them."""
    known = {(m["quantity"], frozenset(m["of"])): m for m in measurements}
    rows, order = [], ["conforms", "not measured", "does not conform"]
    for row in nominal.rows:
        if "quantity" not in row:
            continue
        of = [row["of"]] if isinstance(row["of"], str) else row["of"]
        m = known.get((row["quantity"], frozenset(of)))
        verdict = "not measured"
        if m is not None:
            actual = m["value"] / nominal.um_per_unit ** (2 if m["unit"] == "um2" else 1)
            least, most = row.get("min"), row.get("max")
            if row.get("nominal") is not None:
                least = row["nominal"] - row.get("minus", math.inf) if least is None else least
                most = row["nominal"] + row.get("plus", math.inf) if most is None else most
            inside = (least is None or actual >= least) and (most is None or actual <= most)
            verdict = "conforms" if inside else "does not conform"
        rows.append({"no": row.get("no"), "verdict": verdict})
    worst = max((r["verdict"] for r in rows), key=order.index) if rows else "not judged"
    return rows, worst


def find_contours(picture, nominal, pitch):
    """Outline, whether it is whole, regions inside it and whether each is cut by the frame."""
    smooth = filters.gaussian(picture, SMOOTH_PX)
    body = find_body(smooth, nominal.outline.area / pitch**2)
    depth = ndimage.distance_transform_edt(body)
    wall = min(shape.exterior.distance(nominal.outline.exterior)
               for shape in nominal.lumens.values()) / pitch
    even = even_light(smooth, depth, wall)
    labels, tone = find_holes(even, depth, wall)
    box = ndimage.find_objects(body.astype(np.uint8))[0]
    height, width = picture.shape
    edges = (box[0].start, box[1].start, height - box[0].stop, width - box[1].stop)
    whole = min(edges) > BORDER_PX
    # From outside: the body's side of the edge is its own tone, whatever lumens it has.
    ring = ndimage.binary_dilation(body, iterations=9) & ~ndimage.binary_dilation(body, iterations=4)
    level = (tone + np.median(even[ring])) / 2
    outline = None
    filled = np.where(depth > min(5.0, 0.5 * wall), tone, even)
    for line in measure.find_contours(filled, level):
        shape = polygon(line[:, ::-1])
        if outline is None or shape.area > outline.area:
            outline = shape
    if outline is None or outline.area < 0.5 * body.sum():
        outline = polygon(max(measure.find_contours(np.pad(body, 1).astype(float), 0.5),
                              key=len)[:, ::-1] - 1)
    regions = []
    for label, part in enumerate(ndimage.find_objects(labels), 1):
        size = np.count_nonzero(labels[part] == label)
        if size < math.pi / 4 * LEAST_REGION_PX**2:
            continue
        shape = half_level_contour(even, labels == label, part, tone)
        if shape is not None and shape.area > math.pi / 4 * LEAST_REGION_PX**2:
            regions.append(shape)
    return outline, whole, regions


def frame_cuts(shape, size):
    x0, y0, x1, y1 = shape.bounds
    return min(x0, y0, size[1] - 1 - x1, size[0] - 1 - y1) <= BORDER_PX


def measure_face(stem, image, section):
    """The result of one face in the result file's form."""
    calibration = read_json(stem + ".calibration.json")
    pitch = pitch_pair(calibration["pixel_pitch_um"])
    mean = float(np.sqrt(np.prod(pitch)))
    nominal = Nominal(read_json(stem + ".design.json"), section)
    picture = read_grey(image)
    outline, whole, regions = find_contours(picture, nominal, mean)
    named = name_regions(nominal, mean, regions, outline)
    features, single, used = {}, {}, set()
    for key, (names, shape) in named.items():
        if shape is None:
            features[key] = {"of": names, "state": "not found"}
            continue
        used.add(id(shape))
        cut = frame_cuts(shape, picture.shape)
        state = "merged" if len(names) > 1 else "cut off" if cut else "open"
        if state == "open":
            single[names[0]] = shape
        features[key] = {"of": names, "state": state, "contour_um": contour_um(shape, pitch)}
    measurements = []
    for of, word, value in values_of(outline if whole else None, single):
        power = 2 if word == "area" else 1
        half = HALF_WIDTH_PX if power == 1 else HALF_WIDTH_PX * math.sqrt(math.pi * value)
        value, half = value * mean**power, half * mean**power
        measurements.append({"of": of, "quantity": word, "value": value, "lo": value - half,
                             "hi": value + half, "unit": "um2" if power == 2 else "um"})
    rows, verdict = judge_rows(nominal, measurements)
    voids = [{"no": i, "class": "void", "contour_um": contour_um(shape, pitch)}
             for i, shape in enumerate((r for r in regions if id(r) not in used), 1)]
    return {"format": "cutface/result", "version": 1, "software": "scikit-image pipeline",
            "placement": {"interchangeable": interchangeable(nominal), "names": "proven"},
            "features": {"outline": {"contour_um": contour_um(outline, pitch), "whole": whole},
                         "lumens": features, "voids": voids},
            "measurements": measurements, "characteristics": rows, "findings": [],
            "verdict": verdict}


def contour_um(shape, pitch):
    return np.round(np.asarray(shape.exterior.coords[:-1]) * pitch, 3).tolist()


def interchangeable(nominal):
    """Names of lumens of the same size at the same distance from the centre."""
    middle = nominal.outline.centroid
    groups = {}
    for name, shape in nominal.lumens.items():
        key = (round(shape.area / nominal.outline.area, 3),
               round(shape.centroid.distance(middle) / math.sqrt(nominal.outline.area), 2))
        groups.setdefault(key, []).append(name)
    return [names for names in groups.values() if len(names) > 1]


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("folders", nargs="+", metavar="DIR")
    parser.add_argument("--only", default="*", help="glob on the faces' names")
    parser.add_argument("--out", default="skimage", help="folder of results inside DIR")
    options = parser.parse_args()
    runs = {}
    for folder, name, truth in find_faces(options.folders):
        if not fnmatch.fnmatch(name, options.only):
            continue
        out = os.path.join(folder, options.out)
        os.makedirs(out, exist_ok=True)
        path = os.path.join(out, name + ".result.json")
        if os.path.exists(path):
            os.remove(path)
        run = {"status": 0, "stderr": "", "timed_out": False}
        begin, begin_cpu = time.perf_counter(), time.process_time()
        try:
            result = measure_face(os.path.join(folder, name),
                                  os.path.join(folder, truth.get("image", name + ".png")),
                                  truth.get("section", "face"))
            with open(path, "w", encoding="utf-8") as file:
                json.dump(result, file)
        except Trouble as trouble:
            run.update(status=3, stderr=str(trouble))
        except (ValueError, IndexError, ZeroDivisionError) as error:  # a step met what it cannot do
            run.update(status=3, stderr=f"[{type(error).__name__}] {error}")
        run["seconds"] = round(time.perf_counter() - begin, 4)
        run["cpu_seconds"] = round(time.process_time() - begin_cpu, 4)
        runs.setdefault(out, {})[name] = run
    for out, log in runs.items():
        with open(os.path.join(out, "runs.json"), "w", encoding="utf-8") as file:
            json.dump(log, file, indent=1)


if __name__ == "__main__":
    main()
