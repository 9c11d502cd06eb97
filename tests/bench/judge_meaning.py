#!/usr/bin/python3
"""What the section means, held against the truth: barriers, bridging voids, collapse, flow.

    judge_meaning.py DIR... [--out out]      faces of make_faces with results of run_faces.py

Truth comes from the faces' true contours by this file's own code (shapely distances, a dense
shortest-path search, flow by fundamental solutions); nothing of the measuring program is used.

  barrier    of two lumens: least sum of solid over true voids of at least the size that the result
             states (picture.smallest_void_px). Error of the measured one in pixels; the path is
             right when it leads through the same voids (judged where the second-best way is at
             least one pixel longer)
  bridging   a true way through voids is at least one pixel shorter than the direct one: does the
             result's barrier lead through a void? Sensitivity over such pairs, specificity over pairs
             whose every way through voids is at least one pixel longer
  collapse   a true ratio (flow, inscribed circle, area) lies below its limit: is there a finding
             "collapsed lumen"? Not judged where a measured ratio is within two standard
             uncertainties of its limit
  flow       flow_ratio: relative error of open lumens and coverage of the stated 95 % interval
"""
import argparse
import json
import os
import sys

import numpy as np
from shapely.geometry import LineString, Point

from faces import Nominal, ResultFace, find_faces, measured
from judge_face import TruthFace, best_naming, overlap

LIMITS = {"flow_ratio": 0.80, "inscribed_ratio": 0.80, "area_ratio": 0.85}
CLEAR_PX = 1.0


def flow_k(shape):
    """Integral of u over a polygon, laplacian u = -1, u = 0 on its edge: u = -r^2 / 4 plus sources
    outside, fitted on the edge by least squares; both integrals by Green's theorem."""
    size = np.sqrt(shape.area)
    centre = np.array(shape.centroid.coords[0])
    ring = LineString((np.asarray(shape.exterior.coords) - centre) / size)
    count = 480
    at = np.array([ring.interpolate(ring.length * (i + 0.5) / count).coords[0] for i in range(count)])
    ends = np.array([ring.interpolate(ring.length * i / count).coords[0] for i in range(count + 1)])
    step = np.diff(ends, axis=0)
    length = np.hypot(step[:, 0], step[:, 1])
    normal = np.stack([step[:, 1], -step[:, 0]], 1) / length[:, None]
    area2 = (ends[:-1, 0] * ends[1:, 1] - ends[1:, 0] * ends[:-1, 1]).sum()
    normal *= np.sign(area2)
    sources = (at + 0.06 * normal)[::2]
    r = np.linalg.norm(at[:, None] - sources[None], axis=2)
    matrix = np.hstack([np.log(r), np.ones((count, 1))])
    weight, *_ = np.linalg.lstsq(matrix, (at**2).sum(1) / 4, rcond=1e-6)
    inner = (0.5 * r * np.log(r) - 0.25 * r) * ((at[:, None] - sources[None]) * normal[:, None]).sum(2) / r
    area = abs(area2) / 2
    k = (inner * length[:, None]).sum(0) @ weight[:-1] + weight[-1] * area
    k -= ((at**2).sum(1) * (at * normal).sum(1) * length).sum() / 16
    return k * size**4


def inscribed(shape):
    """Diameter of the largest circle inside, by refining a grid of centres."""
    edge = shape.exterior
    x0, y0, x1, y1 = shape.bounds
    centre, half = np.array([(x0 + x1) / 2, (y0 + y1) / 2]), max(x1 - x0, y1 - y0) / 2
    best = -1.0
    for _ in range(14):
        at = centre
        for dx in np.linspace(-half, half, 9):
            for dy in np.linspace(-half, half, 9):
                p = Point(at[0] + dx, at[1] + dy)
                d = edge.distance(p) if shape.contains(p) else -1.0
                if d > best:
                    best, centre = d, np.array([p.x, p.y])
        half *= 0.4
    return 2 * best


def ways(first, second, others, voids):
    """(length, voids on it) of the least way and of the direct one between two shapes."""
    def solid(a, b):
        line = LineString([*_nearest(a, b)])
        blocked = any(line.intersects(o) for o in others)
        return np.inf if blocked else a.distance(b)

    nodes = [first, second, *voids]
    n = len(nodes)
    weight = np.full((n, n), np.inf)
    for i in range(n):
        for j in range(i + 1, n):
            weight[i, j] = weight[j, i] = solid(nodes[i], nodes[j])
    direct = weight[0, 1]

    def search(w):
        cost, before, done = np.full(n, np.inf), [-1] * n, [False] * n
        cost[0] = 0
        for _ in range(n):
            i = min((k for k in range(n) if not done[k]), key=lambda k: cost[k])
            if not np.isfinite(cost[i]) or i == 1:
                break
            done[i] = True
            for j in range(n):
                if cost[i] + w[i, j] < cost[j]:
                    cost[j], before[j] = cost[i] + w[i, j], i
        path, k = [], before[1]
        while k > 0:
            path.append(k - 2)
            k = before[k]
        return cost[1], path[::-1]

    best = search(weight)
    through = weight.copy()
    through[0, 1] = through[1, 0] = np.inf
    via = search(through)
    # The second best: one void of the best taken away, or the direct way closed.
    second_best = np.inf
    for v in best[1]:
        cut = weight.copy()
        cut[v + 2], cut[:, v + 2] = np.inf, np.inf
        second_best = min(second_best, search(cut)[0])
    if not best[1]:
        second_best = via[0]
    return best, direct, via, second_best


def _nearest(a, b):
    from shapely.ops import nearest_points
    p, q = nearest_points(a, b)
    return p.coords[0], q.coords[0]


def judge(folder, name, truth_json, out):
    """Rows of one face, or None where no result could be matched."""
    path = os.path.join(folder, out, name + ".result.json")
    if not os.path.exists(path):
        return None
    with open(path, encoding="utf-8") as file:
        data = json.load(file)
    result = ResultFace(data, truth_json["record_pitch_um"])
    with open(os.path.join(folder, name + ".design.json"), encoding="utf-8") as file:
        nominal = Nominal(json.load(file), truth_json.get("section", "face"))
    truth = TruthFace(truth_json, data["image"]["size_px"])
    swap, problems = best_naming(truth, result, nominal)
    if problems:
        return None
    back = {b: a for a, b in swap.items()}
    rows = {"barrier": [], "bridging": [], "told": [], "collapse": [], "flow": []}
    least = data["picture"]["smallest_void_px"]
    voids = [shape for shape, d in truth.voids if d >= least and truth.frame.contains(shape)]
    whole = [n for n, s in truth.states.items()
             if s in ("open", "filled") and n not in truth.cut and not truth.shapes[n].is_empty]
    for i, a in enumerate(whole):
        for b in whole[i + 1:]:
            m = result.measurements.get(("barrier", frozenset([back.get(a, a), back.get(b, b)])))
            if not measured(m):
                continue
            others = [truth.shapes[n] for n in whole if n not in (a, b)]
            best, direct, via, second = ways(truth.shapes[a], truth.shapes[b], others, voids)
            if not np.isfinite(direct):
                continue
            at = np.asarray(m["at_um"]) / np.asarray(data["calibration"]["mean_pitch_um"])
            got = [k for k, v in enumerate(voids)
                   if any(v.buffer(2.0).contains(Point(*p)) for p in at[1:-1])]
            through = len(at) >= 4
            rows["barrier"].append({"error": m["value"] / result.pitch - best[0],
                                    "right": sorted(got) == sorted(best[1]) and through == bool(best[1]),
                                    "clear": second - best[0] >= CLEAR_PX})
            if direct - via[0] >= CLEAR_PX:
                told = through or "through a doubtful void" in m.get("grade_reason", "")
                rows["bridging"].append((True, through))
                rows["told"].append(told)
            elif via[0] - direct >= CLEAR_PX:
                rows["bridging"].append((False, through))
    for n in whole:
        drawn = nominal.lumens.get(n) if hasattr(nominal, "lumens") else None
        if drawn is None:
            continue
        scale = 1 / truth.pitch
        shape, own = truth.shapes[n], back.get(n, n)
        true = {"area_ratio": shape.area / (drawn.area * scale**2),
                "inscribed_ratio": inscribed(shape) / (inscribed(drawn) * scale),
                "flow_ratio": flow_k(shape) / (flow_k(drawn) * scale**4)}
        got = {w: result.measurements.get((w, frozenset([own]))) for w in LIMITS}
        if all(measured(m) for m in got.values()):
            near = any(abs(m["value"] - LIMITS[w]) < 2 * m["u"] for w, m in got.items())
            found = any(f["kind"] == "collapsed lumen" and own in f["where"] for f in data["findings"])
            if not near:
                rows["collapse"].append((any(true[w] < LIMITS[w] for w in LIMITS), found))
        m = got["flow_ratio"]
        if measured(m):
            rows["flow"].append({"error": m["value"] / true["flow_ratio"] - 1,
                                 "covered": m["lo"] <= true["flow_ratio"] <= m["hi"]})
    return rows


def share(flags):
    flags = list(flags)
    return f"{100 * np.mean(flags):.1f} % of {len(flags)}" if flags else "none"


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("folders", nargs="+", metavar="DIR")
    parser.add_argument("--out", default="out")
    options = parser.parse_args()
    rows, judged, faces = {}, 0, 0
    for folder, name, truth in find_faces(options.folders):
        faces += 1
        own = judge(folder, name, truth, options.out)
        if own is None:
            continue
        judged += 1
        for key, values in own.items():
            rows.setdefault(key, []).extend(values)
    print(f"{faces} faces, {judged} with a complete result")
    barrier, bridging = rows.get("barrier", []), rows.get("bridging", [])
    if barrier:
        errors = np.abs([b["error"] for b in barrier])
        print(f"barrier: median error {np.median(errors):.3f} px, 95th percentile "
              f"{np.quantile(errors, 0.95):.2f} px, of {len(errors)} pairs")
        print(f"right path: {share(b['right'] for b in barrier if b['clear'])}")
    print(f"bridging, sensitivity: {share(got for true, got in bridging if true)}")
    print(f"bridging, told or left open in words: {share(rows.get('told', []))}")
    print(f"bridging, specificity: {share(not got for true, got in bridging if not true)}")
    collapse = rows.get("collapse", [])
    print(f"collapse right: {share(true == got for true, got in collapse)}"
          f" ({sum(true for true, _ in collapse)} collapsed)")
    flow = rows.get("flow", [])
    if flow:
        errors = np.abs([f["error"] for f in flow])
        print(f"flow ratio: median error {100 * np.median(errors):.2f} %, within 1 %: "
              f"{share(e < 0.01 for e in errors)}, covered {share(f['covered'] for f in flow)}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
