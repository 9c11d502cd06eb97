#!/usr/bin/python3
"""The scorer's own test: perfect results score 100 %, and one perturbation per rule is caught.

Faces are circles with hand-made truth; contours, areas and distances are shapely's. Checks against
outside: scipy's exact binomial interval, closed forms of areas for the flattened shapes.
"""

import copy
import json
import math
import os
import tempfile
import unittest

import numpy as np
from scipy.stats import binomtest
from shapely.geometry import Polygon

import faces
import score
from fixture import (BROKEN, CENTRE, EQUAL, RECORD_PITCH, TRUE_PITCH, UNLIKE, VOIDS, circle,
                     make_design, make_truth, perfect_result, to_um)


class ScorerTest(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.TemporaryDirectory()
        self.addCleanup(self.folder.cleanup)

    def write(self, name, truth, lumens, result, rows=(), run=None):
        """Puts one face into the folder; result None: the program gave nothing."""
        out = os.path.join(self.folder.name, "out")
        os.makedirs(out, exist_ok=True)
        calibration = {"pixel_pitch_um": [RECORD_PITCH] * 2, "image_size_px": [1200, 900]}
        stem = os.path.join(self.folder.name, name)
        for path, data in ((stem + ".truth.json", truth),
                           (stem + ".design.json", make_design(lumens, rows)),
                           (stem + ".calibration.json", calibration),
                           (os.path.join(out, name + ".result.json"), result),
                           (os.path.join(out, "runs.json"), {name: run} if run else None)):
            if data is not None:
                with open(path, "w", encoding="utf-8") as file:
                    json.dump(data, file)

    def one(self, lumens, change=None, rows=(), verdict="not judged", **truth_options):
        """Scores one face whose perfect result was changed by `change`: (figures, face)."""
        return self.one_truth(make_truth(lumens, **truth_options), lumens, change, rows, verdict)

    def one_truth(self, truth, lumens, change=None, rows=(), verdict="not judged"):
        result = perfect_result(truth, verdict)
        if change:
            change(result)
        self.write("f", truth, lumens, result, rows)
        found = score.score([self.folder.name])
        return found["sets"]["plain"], found["faces"][0]

    # -- perfect results --

    def test_perfect_results_score_full_marks(self):
        for name, lumens, options in (("f1", UNLIKE, {"voids": VOIDS}), ("f2", EQUAL, {}),
                                      ("f3", BROKEN, {"merged": ("a", "b"), "missing": ("d",)})):
            truth = make_truth(lumens, **options)
            self.write(name, truth, lumens, perfect_result(truth))
        found = score.score([self.folder.name])
        figures = found["sets"]["plain"]
        self.assertEqual(figures["faces"], 3)
        for key in ("complete", "diameter_025", "diameter_05", "large_recall", "large_precision",
                    "small_recall", "small_precision"):
            self.assertEqual(figures[key], 1.0, key)
        for key in ("over_read", "silent", "not_measured"):
            self.assertEqual(figures[key], 0.0, key)
        for key in ("septum_median", "wall_median"):
            self.assertLess(figures[key], 1e-9, key)
        for word, row in figures["quantities"].items():
            self.assertEqual(row["coverage"], 1.0, word)

    # -- complete --

    def test_swapped_names_of_unlike_lumens_are_caught(self):
        def swap(result):
            lumens = result["features"]["lumens"]
            lumens["wash"], lumens["return"] = (
                {**lumens["return"], "of": ["wash"]}, {**lumens["wash"], "of": ["return"]})
            result["placement"]["interchangeable"] = [["wash", "return"]]  # a false excuse
        figures, face = self.one(UNLIKE, swap)
        self.assertEqual(figures["complete"], 0.0)
        self.assertIn("wrong name", face["reasons"][0])

    def test_lumen_told_as_not_found_is_caught(self):
        def lose(result):
            result["features"]["lumens"]["cuff"] = {"of": ["cuff"], "state": "not found"}
        _, face = self.one(UNLIKE, lose)
        self.assertEqual(face["reasons"], ["cuff: not found, is open"])

    def test_lumen_missing_in_the_result_is_caught(self):
        _, face = self.one(UNLIKE, lambda r: r["features"]["lumens"].pop("cuff"))
        self.assertEqual(face["reasons"], ["cuff: missing in the result"])

    def test_wrong_state_is_caught(self):
        def cut(result):
            result["features"]["lumens"]["cuff"]["state"] = "cut off"
        _, face = self.one(UNLIKE, cut)
        self.assertEqual(face["reasons"], ["cuff: told as cut off, is open"])

    def test_open_told_as_filled_shows_in_a_row_of_its_own(self):
        def fill(result):
            result["features"]["lumens"]["cuff"]["state"] = "filled"
        figures, _ = self.one(UNLIKE, fill)
        self.assertEqual((figures["complete"], figures["fill_right"]), (1.0, 0.0))

    def cut_face(self, change=None):
        """A face whose lumen `far` the frame cuts in half (x = 1199.5) and `out` lies beyond it."""
        lumens = {"near": (0, 0, 100), "far": (599.5, 0, 80), "out": (760, 0, 60)}

        def cut(result):
            for name in ("far", "out"):
                result["features"]["lumens"][name]["state"] = "cut off"
            result["measurements"] = [
                m for m in result["measurements"]
                if not {"far", "out", "outline"} & set(m["of"]) and m["quantity"] != "wall"]
            if change:
                change(result)

        truth = make_truth(lumens)
        truth["outline"] = {"contour_px": circle(*CENTRE, 900).tolist(), "whole": False}
        for name in ("far", "out"):
            truth["lumens"][name]["state"] = "cut off"
        return self.one_truth(truth, lumens, cut)

    def test_what_the_frame_cuts_may_be_left_out(self):
        figures, _ = self.cut_face()
        self.assertEqual((figures["complete"], figures["not_measured"]), (1.0, 0.0))
        self.assertEqual(figures["diameter_025"], 1.0)

    def test_lumen_beyond_the_frame_may_be_not_found(self):
        def lose(name):
            return lambda r: r["features"]["lumens"].update(
                {name: {"of": [name], "state": "not found"}})
        self.assertEqual(self.cut_face(lose("out"))[0]["complete"], 1.0)
        self.assertEqual(self.cut_face(lose("far"))[0]["complete"], 0.0)

    def test_cut_lumen_told_as_open_is_caught_and_silently_wrong(self):
        def whole(result):
            result["features"]["lumens"]["far"]["state"] = "open"
        figures, face = self.cut_face(whole)
        self.assertEqual(face["reasons"], ["far: told as open, is cut off"])
        self.assertEqual(figures["silent"], 1.0)

    def test_invented_lumen_is_caught(self):
        def invent(result):
            result["features"]["lumens"]["d"] = {
                "of": ["d"], "state": "open", "contour_um": to_um(circle(600, 200, 60))}
        _, face = self.one(BROKEN, invent, merged=("a", "b"), missing=("d",))
        self.assertFalse(face["complete"])
        self.assertIn("invented", face["reasons"][0])

    def test_lumen_with_an_unknown_name_is_caught(self):
        def invent(result):
            result["features"]["lumens"]["x"] = {
                "of": ["x"], "state": "open", "contour_um": to_um(circle(600, 450, 20))}
        _, face = self.one(UNLIKE, invent)
        self.assertEqual(face["reasons"], ["x: invented as open"])

    def test_merged_lumens_told_as_two_are_caught_and_silently_wrong(self):
        def part(result):
            merged = result["features"]["lumens"].pop("a+b")
            for name, x in (("a", 500), ("b", 700)):
                result["features"]["lumens"][name] = {
                    "of": [name], "state": "open", "contour_um": to_um(circle(x, 450, 98))}
            self.assertEqual(merged["state"], "merged")
        figures, face = self.one(BROKEN, part, merged=("a", "b"))
        self.assertEqual(figures["complete"], 0.0)
        self.assertEqual(figures["silent"], 1.0)
        self.assertIn("a+b: merged, told as open", face["reasons"])

    def test_merging_sound_lumens_is_caught(self):
        def merge(result):
            lumens = result["features"]["lumens"]
            lumens["wash+cuff"] = {**lumens.pop("wash"), "of": ["wash", "cuff"], "state": "merged"}
            lumens.pop("cuff")
        figures, _ = self.one(UNLIKE, merge)
        self.assertEqual(figures["complete"], 0.0)

    def test_lumen_named_twice_is_caught(self):
        def twice(result):
            lumens = result["features"]["lumens"]
            lumens["again"] = {**lumens["cuff"], "of": ["cuff"]}
        _, face = self.one(UNLIKE, twice)
        self.assertEqual(face["reasons"], ["cuff: named 2 times"])

    def test_merged_lumens_told_with_a_third_are_caught(self):
        def add(result):
            lumens = result["features"]["lumens"]
            lumens["a+b"]["of"] = ["a", "b", "c"]
            lumens.pop("c")
        _, face = self.one(BROKEN, add, merged=("a", "b"))
        self.assertIn("a+b: merged, told as a+b+c", face["reasons"])

    def test_contour_elsewhere_is_caught(self):
        def move(result):
            result["features"]["lumens"]["cuff"]["contour_um"] = to_um(circle(600, 500, 40))
        _, face = self.one(UNLIKE, move)
        self.assertIn("elsewhere", face["reasons"][0])

    def test_missing_outline_is_caught(self):
        _, face = self.one(UNLIKE, lambda r: r["features"].pop("outline"))
        self.assertIn("outline", face["reasons"][0])

    # -- interchangeable names --

    def rename(self, swap, declared):
        def change(result):
            lumens = result["features"]["lumens"]
            result["features"]["lumens"] = {
                new: {**lumens[old], "of": [new]} for old, new in swap.items()}
            for m in result["measurements"]:
                m["of"] = [swap.get(n, n) for n in m["of"]]
            result["placement"]["interchangeable"] = declared
        return change

    def test_turned_names_count_only_when_declared(self):
        turn = {"n": "e", "e": "s", "s": "w", "w": "n"}
        figures, _ = self.one(EQUAL, self.rename(turn, [list(EQUAL)]))
        self.assertEqual((figures["complete"], figures["not_measured"]), (1.0, 0.0))
        self.assertLess(figures["septum_median"], 1e-9)
        figures, _ = self.one(EQUAL, self.rename(turn, []))
        self.assertEqual(figures["complete"], 0.0)

    def test_mirrored_names_count_when_declared(self):
        figures, _ = self.one(EQUAL, self.rename(
            {"n": "n", "e": "w", "s": "s", "w": "e"}, [list(EQUAL)]))
        self.assertEqual(figures["complete"], 1.0)

    def test_permutation_that_is_no_symmetry_is_caught(self):
        figures, _ = self.one(EQUAL, self.rename(
            {"n": "e", "e": "n", "s": "s", "w": "w"}, [list(EQUAL)]))
        self.assertEqual(figures["complete"], 0.0)

    def test_permutation_beyond_the_declared_names_is_caught(self):
        half_turn = {"n": "s", "e": "w", "s": "n", "w": "e"}
        figures, _ = self.one(EQUAL, self.rename(half_turn, [["n", "s"]]))
        self.assertEqual(figures["complete"], 0.0)
        figures, _ = self.one(EQUAL, self.rename(half_turn, [["n", "s"], ["e", "w"]]))
        self.assertEqual(figures["complete"], 1.0)

    def test_lumens_of_unlike_size_are_not_interchangeable(self):
        lumens = {**EQUAL, "n": (0, -200, 80)}
        turn = {"n": "e", "e": "s", "s": "w", "w": "n"}
        figures, _ = self.one(lumens, self.rename(turn, [list(lumens)]))
        self.assertEqual(figures["complete"], 0.0)

    # -- values --

    @staticmethod
    def shift(word, of, px):
        def change(result):
            for m in result["measurements"]:
                if m["quantity"] == word and m["of"] == of:
                    for key in ("value", "lo", "hi"):
                        m[key] += px * RECORD_PITCH
        return change

    def test_diameter_errors_fall_out_of_their_limits(self):
        for px, near, far in ((0.2, 1.0, 1.0), (0.3, 0.8, 1.0), (-0.6, 0.8, 0.8)):
            figures, _ = self.one(UNLIKE, self.shift("equivalent_diameter", ["scope"], px))
            self.assertEqual((figures["diameter_025"], figures["diameter_05"]), (near, far))

    def test_what_is_not_measured_counts_as_outside(self):
        def drop(result):
            for m in result["measurements"]:
                if m["of"] == ["scope"] and m["quantity"] == "equivalent_diameter":
                    m["value"] = None
        figures, _ = self.one(UNLIKE, drop)
        self.assertEqual(figures["diameter_05"], 0.8)
        self.assertGreater(figures["not_measured"], 0.0)

    def test_septum_and_wall_errors_show_in_their_medians(self):
        for word in ("septum", "wall"):
            def change(result, word=word):
                for m in result["measurements"]:
                    if m["quantity"] == word:
                        m["value"] += 0.4 * RECORD_PITCH
            figures, _ = self.one(UNLIKE, change)
            self.assertAlmostEqual(figures[word + "_median"], 0.4, places=9)

    def test_septum_over_read_beyond_its_interval_is_caught(self):
        figures, _ = self.one(UNLIKE, self.shift("septum", ["scope", "cuff"], 3.0))
        self.assertAlmostEqual(figures["over_read"], 1 / 6)
        figures, _ = self.one(UNLIKE, self.shift("septum", ["scope", "cuff"], -3.0))
        self.assertEqual(figures["over_read"], 0.0)

    def test_septum_measured_over_a_breach_is_over_read(self):
        def measure(result):
            result["measurements"].append({"of": ["a", "b"], "quantity": "septum", "value": 20.0,
                                           "lo": 18.0, "hi": 22.0, "unit": "um"})
        for width in (0.0, None):
            truth = make_truth(BROKEN, merged=("a", "b"))
            truth["quantities"][-1]["value_px"] = width
            figures, _ = self.one_truth(truth, BROKEN, measure)
            self.assertGreater(figures["over_read"], 0.0)

    def test_interval_that_misses_lowers_coverage_on_either_side(self):
        for px in (5.0, -5.0):
            figures, _ = self.one(UNLIKE, self.shift("equivalent_diameter", ["cuff"], px))
            row = figures["quantities"]["equivalent_diameter (lumen)"]
            self.assertEqual(row["coverage"], 0.75)

    def test_interval_is_held_against_the_true_pitch(self):
        def tighten(result):
            for m in result["measurements"]:
                if m["of"] == ["outline"]:
                    m["lo"], m["hi"] = m["value"] - 0.1, m["value"] + 0.1
        figures, _ = self.one(UNLIKE, tighten)
        row = figures["quantities"]["equivalent_diameter (outline)"]
        self.assertEqual(row["coverage"], 0.0)  # 800 px x 0.002 um of pitch error = 1.6 um
        self.assertEqual(figures["diameter_025"], 1.0)

    def test_wide_intervals_cost_sharpness(self):
        def widen(factor):
            def change(result):
                for m in result["measurements"]:
                    m["lo"] = m["value"] - factor * 2 * RECORD_PITCH
                    m["hi"] = m["value"] + factor * 2 * RECORD_PITCH
                    m["value"] += RECORD_PITCH  # one pixel off
            return change
        sharp = [self.one(UNLIKE, widen(f))[0]["quantities"]["septum (pair)"]["sharpness"]
                 for f in (1, 3)]
        self.assertAlmostEqual(sharp[0], 1.0, delta=0.2)  # the pitch's error adds to the pixel
        self.assertAlmostEqual(sharp[1] / sharp[0], 3.0, places=6)

    def test_robust_sharpness_is_one_for_normal_errors_of_any_size(self):
        rng = np.random.default_rng(11)
        sigma = 10 ** rng.uniform(-2, 1, 20001)
        lines = [{"word": "wall", "kind": "lumen", "breach": False, "measured": True, "error": e,
                  "error_true": e, "half": 2 * s, "covered": abs(e) <= 2 * s}
                 for e, s in zip(sigma * rng.normal(size=sigma.size), sigma)]
        row = score.quantity_statistics(
            [{"name": str(i), "values": [line]} for i, line in enumerate(lines)])["wall (lumen)"]
        self.assertAlmostEqual(row["sharpness_robust"], 1.0, delta=0.02)
        self.assertAlmostEqual(row["coverage"], 0.9545, delta=0.005)  # 2 sigma of a normal

    def test_septum_to_one_member_of_a_merged_bore_is_found(self):
        def split(result):
            for m in result["measurements"]:
                m["of"] = ["b" if n == "a+b" else n for n in m["of"]]
                if m["of"] == ["b", "c"]:
                    m["value"] += 0.7 * RECORD_PITCH
        figures, face = self.one(BROKEN, split, merged=("a", "b"))
        line = next(li for li in face["values"] if li["of"] == ["a", "b", "c"])
        self.assertEqual(line["kind"], "merged")
        self.assertAlmostEqual(line["error"], 0.7)

    # -- voids --

    def voids(self, change):
        figures, _ = self.one(UNLIKE, lambda r: change(r["features"]["voids"]), voids=VOIDS)
        return {k: figures[k] for k in ("large_recall", "large_precision", "small_recall",
                                        "small_precision")}

    def test_lost_void_lowers_recall(self):
        got = self.voids(lambda v: v.pop(0))
        self.assertEqual((got["large_recall"], got["large_precision"]), (0.5, 1.0))
        got = self.voids(lambda v: v.pop(1))
        self.assertEqual((got["large_recall"], got["small_recall"]), (1.0, 0.0))

    def test_invented_void_lowers_precision(self):
        for r, key, value in ((10, "large_precision", 2 / 3), (4, "small_precision", 0.5)):
            got = self.voids(lambda v, r=r: v.append(
                {"class": "void", "contour_um": to_um(circle(500, 600, r))}))
            self.assertAlmostEqual(got[key], value)

    def test_doubtful_finds_small_voids_only_and_is_never_false(self):
        def doubt(voids):
            for v in voids:
                v["class"] = "doubtful"
            voids.append({"class": "doubtful", "contour_um": to_um(circle(500, 600, 4))})
        got = self.voids(doubt)
        self.assertEqual((got["large_recall"], got["small_recall"]), (0.0, 1.0))
        self.assertIsNone(got["small_precision"])

    def test_debris_is_no_void(self):
        got = self.voids(lambda v: v[0].update({"class": "debris"}))
        self.assertEqual(got["large_recall"], 0.5)

    def test_one_blob_over_everything_finds_nothing(self):
        got = self.voids(lambda v: (v.clear(), v.append(
            {"class": "void", "contour_um": to_um(circle(600, 450, 300))})))
        self.assertEqual((got["large_recall"], got["large_precision"]), (0.0, 0.0))

    # -- silent wrong --

    def silent(self, lumens=UNLIKE, change=None, verdict="not judged", rows=(), **more):
        return self.one(lumens, change, rows, verdict, **more)[0]["silent"]

    def septum_row(self, px):
        """A row whose least is `px` above the true septum of scope and cuff."""
        scope, cuff = Polygon(circle(*UNLIKE["scope"])), Polygon(circle(*UNLIKE["cuff"]))
        least = (scope.distance(cuff) + px) * TRUE_PITCH / 1000.0
        return [{"no": "7", "of": ["scope", "cuff"], "quantity": "septum", "min": least}]

    def test_conforming_verdict_on_a_broken_limit_is_silently_wrong(self):
        self.assertEqual(self.silent(verdict="conforms", rows=self.septum_row(0.6)), 1.0)
        self.assertEqual(self.silent(verdict="conforms", rows=self.septum_row(0.4)), 0.0)
        self.assertEqual(self.silent(verdict="not proven", rows=self.septum_row(0.6)), 0.0)

    def test_upper_limit_from_nominal_and_plus_counts(self):
        scope = 2 * 130 * TRUE_PITCH / 1000.0
        for nominal, expected in ((scope - 0.012, 1.0), (scope - 0.01, 0.0)):
            rows = [{"no": "2", "of": "scope", "quantity": "equivalent_diameter",
                     "nominal": nominal, "plus": 0.01, "minus": 0.01}]
            self.assertEqual(self.silent(verdict="conforms", rows=rows), expected)

    def test_row_without_true_value_falls_back_on_the_list(self):
        rows = [{"no": "9", "of": "voids", "quantity": "void_to_lumen", "min": 0.06}]
        for listed, expected in ((["no 9"], 1.0), ([], 0.0)):
            self.assertEqual(self.silent(verdict="conforms", rows=rows, limits_broken=listed),
                             expected)

    def test_longest_void_is_judged_by_its_contour(self):
        for longest, expected in ((29.0, 1.0), (29.8, 0.0)):  # the longest true one has 30 px
            rows = [{"no": "9", "of": "voids", "quantity": "longest",
                     "max": longest * TRUE_PITCH / 1000.0}]
            self.assertEqual(self.silent(verdict="conforms", rows=rows, voids=VOIDS), expected)

    @staticmethod
    def move(dx, r=40):
        def change(result):
            x, y, _ = UNLIKE["cuff"]
            result["features"]["lumens"]["cuff"]["contour_um"] = to_um(
                circle(CENTRE[0] + x + dx, CENTRE[1] + y, r))
        return change

    def test_lumen_off_by_three_pixels_unsaid_is_silently_wrong(self):
        self.assertEqual(self.silent(change=self.move(3.2)), 1.0)
        self.assertEqual(self.silent(change=self.move(2.8)), 0.0)
        self.assertEqual(self.silent(change=self.move(0, 41.6)), 1.0)  # diameter + 3.2 px
        self.assertEqual(self.silent(change=self.move(0, 41.4)), 0.0)
        self.assertEqual(self.silent(change=self.move(4), verdict="does not conform"), 1.0)

    def test_whatever_speaks_of_the_lumen_breaks_the_silence(self):
        def spoken(extra):
            def change(result):
                self.move(5)(result)
                extra(result)
            return change

        def grade(result):
            for m in result["measurements"]:
                if m["of"] == ["cuff"] and m["quantity"] == "equivalent_diameter":
                    m["grade"] = "doubtful"

        loud = [
            lambda r: r["findings"].append({"kind": "collapsed lumen", "where": ["cuff"]}),
            lambda r: r["findings"].append({"kind": "poor image", "where": []}),
            lambda r: r["features"]["lumens"]["cuff"].update(doubt="the edge changes its model"),
            lambda r: r["placement"].update(names="not proven"),
            grade,
        ]
        for extra in loud:
            self.assertEqual(self.silent(change=spoken(extra)), 0.0)
        quiet = [lambda r: r["findings"].append({"kind": "void", "where": ["voids"]}),
                 lambda r: r["findings"].append({"kind": "thin wall", "where": ["scope"]})]
        for extra in quiet:
            self.assertEqual(self.silent(change=spoken(extra)), 1.0)

    # -- runs --

    def test_face_without_result_is_counted_with_its_code(self):
        truth = make_truth(UNLIKE, VOIDS)
        self.write("f", truth, UNLIKE, None, run={
            "status": 3, "seconds": 0.5, "timed_out": False,
            "stderr": "cutface: [image-blurred] /x/y.png: out of focus, refocus"})
        figures = score.score([self.folder.name])["sets"]["plain"]
        self.assertEqual(figures["codes"], {"exit 3: image-blurred": 1})
        self.assertEqual(figures["seconds"], 0.5)
        self.assertEqual((figures["complete"], figures["not_measured"]), (0.0, 1.0))
        self.assertEqual((figures["diameter_05"], figures["large_recall"]), (0.0, 0.0))

    # -- numbers against outside --

    def test_binomial_interval_agrees_with_scipy(self):
        for hits, count in ((0, 10), (10, 10), (190, 200), (961, 1000)):
            expected = binomtest(hits, count).proportion_ci(0.95, method="exact")
            np.testing.assert_allclose(score.clopper_pearson(hits, count), expected, rtol=1e-10)

    def test_design_effect_is_one_for_lone_values_and_grows_with_clusters(self):
        rng = np.random.default_rng(5)
        lone = [(int(rng.random() < 0.9), 1) for _ in range(4000)]
        self.assertAlmostEqual(score.design_effect(lone), 1.0, delta=0.01)
        together = [(8 * hit, 8) for hit, _ in lone]  # eight values that always agree
        self.assertAlmostEqual(score.design_effect(together), 8.0, delta=0.05)

    def test_shapes_are_flattened_to_their_closed_form_areas(self):
        half_disc = "M-1,0 L1,0 A1,1 0 0 1 -1,0 Z"
        quarter = "M0,0 h2 v0 a2,2 0 0 1 -2,2 z"
        rounded = {"rectangle": {"size": [4, 2], "corner_radius": 0.5, "angle_deg": 30}}
        quadratic = "M0,0 Q1,2 2,0 Z"  # a parabola's segment: 2/3 of 2 x 1
        for shape, area in (({"path": half_disc}, math.pi / 2), ({"path": quarter}, math.pi),
                            (rounded, 8 - (4 - math.pi) * 0.25), ({"path": quadratic}, 4 / 3),
                            ({"circle": {"center": [3, 1], "diameter": 2}}, math.pi),
                            ({"ellipse": {"size": [4, 2], "angle_deg": 20}}, 2 * math.pi)):
            got = faces.polygon(faces.flatten_shape(copy.deepcopy(shape), 1.0)).area
            self.assertAlmostEqual(got / area, 1.0, delta=1.5e-3, msg=str(shape))


if __name__ == "__main__":
    unittest.main()
