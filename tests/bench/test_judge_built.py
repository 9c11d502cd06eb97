#!/usr/bin/python3
"""Figures of built-up parts: a perfect result scores full marks, one perturbation per rule is caught.

The truth is made by hand: two combs of eight wires, 45 degrees apart each (720 / 16 carriers), a
bond with one gap of 20 degrees, a liner of 8 px.
"""

import copy
import math
import unittest

import numpy as np

from fixture import CENTRE, RECORD_PITCH, UNLIKE, circle, make_design, make_truth, perfect_result, to_um
from judge_built import judge_braid
from judge_face import judge
from score import BRAID_WITHIN, statistics

ABOUT = list(CENTRE)
RADIUS = 330.0
MISSING, PULLED, EXPOSED = 3, 6, 12
BUNDLE = [CENTRE[0] + 250.0, CENTRE[1] + 100.0]


def ring_sector(inner, outer, start_deg, end_deg):
    angles = np.radians(np.linspace(start_deg, end_deg, 40))
    ray = np.column_stack([np.cos(angles), np.sin(angles)])
    return (np.vstack([outer * ray, inner * ray[::-1]]) + ABOUT).tolist()


def make_wires():
    wires = []
    for family, phase in ((1, -85.0), (2, -65.0)):
        for i in range(8):
            angle = math.radians(phase + 45.0 * i)
            at = [ABOUT[0] + RADIUS * math.cos(angle), ABOUT[1] + RADIUS * math.sin(angle)]
            no = i + 1 + (8 if family == 2 else 0)
            state = {MISSING: "missing", PULLED: "pulled out"}.get(no, "wire")
            wires.append({"layer": "braid", "no": no, "family": family, "state": state,
                          "centre_px": at, "axes_px": [20.0, 14.0], "axis_deg": 0.0, "shape": "round",
                          "displaced": False, "touching": False, "whole": True,
                          "exposed_to": "outside" if no == EXPOSED else "",
                          "contour_px": circle(*at, 8, 60).tolist()})
    return wires


def built_truth():
    truth = make_truth(UNLIKE)
    truth["set"] = "built-hard"
    truth["pose"] = {"centre_px": ABOUT, "rotation_deg": 0.0, "mirrored": False,
                     "oblique_deg": 0.0, "oblique_axis_deg": 0.0}
    truth["wires"] = make_wires()
    truth["wire_layers"] = [{"name": "braid", "centre_px": ABOUT, "expected": 16, "families": 2,
                             "radius_px": RADIUS, "wire_px": 14.0, "braid_angle_deg": 45.0}]
    truth["artefacts"] = [{"class": "bond gap", "of": "adhesive", "about_px": ABOUT, "from_deg": 30.0,
                           "to_deg": 50.0, "width_px": 15.0,
                           "contour_px": ring_sector(345, 360, 30, 50)}]
    truth["fibres"] = [{"name": "axial-1", "centre_px": BUNDLE, "filament_px": 7.0, "filaments": 7,
                        "at_px": [BUNDLE] + [[BUNDLE[0] + 8 * math.cos(k * math.pi / 3),
                                              BUNDLE[1] + 8 * math.sin(k * math.pi / 3)]
                                             for k in range(6)]}]
    truth["rings"] = {"adhesive": {"inner_px": circle(*ABOUT, 345, 360).tolist()}}
    truth["bond"] = {"adhesive": "adhesive", "sleeve": "sleeve", "bonded_arc_deg": 340.0,
                     "longest_gap_deg": 20.0, "offset_px": 3.0}
    truth["quantities"].append(
        {"of": ["scope/liner"], "quantity": "thickness_mean", "value_px": 8.0})
    return truth


def built_result(truth):
    result = perfect_result(truth)
    features = result["features"]
    features["wires"] = [
        {"layer": w["layer"], "no": w["no"], "family": w["family"], "state": w["state"],
         "centroid_um": to_um(w["centre_px"]), "exposed_to": w["exposed_to"]} for w in truth["wires"]]
    features["fibres"] = [{"name": "axial-1", "centre_um": to_um(BUNDLE), "filaments": 7,
                           "radius_um": 11.5 * RECORD_PITCH, "at_um": []}]
    features["rings"] = {"adhesive": {"inner": {"contour_um": to_um(truth["rings"]["adhesive"]["inner_px"])}}}
    features["voids"] = [{"no": 1, "class": "bond gap",
                          "contour_um": to_um(truth["artefacts"][0]["contour_px"])}]
    for of, word, value, unit in (("bond", "offset", 3.0 * RECORD_PITCH, "um"),
                                  ("bond", "bonded_arc", 340.0, "deg"),
                                  ("bond", "longest_gap", 20.0, "deg"),
                                  ("braid", "braid_angle", 45.0, "deg")):
        result["measurements"].append({"of": [of], "quantity": word, "value": value, "u": 0.1,
                                       "lo": value - 0.2, "hi": value + 0.2, "unit": unit})
    return result


class BuiltTest(unittest.TestCase):
    def figures(self, change=None, change_truth=None):
        truth = built_truth()
        if change_truth:
            change_truth(truth)
        result = built_result(truth)
        if change:
            change(result)
        calibration = {"pixel_pitch_um": [RECORD_PITCH] * 2, "image_size_px": [1200, 900]}
        face = judge("f", truth, make_design(UNLIKE), calibration, result, None)
        return statistics([face])

    def wires(self, change):
        return self.figures(lambda r: change(r["features"]["wires"]))

    def test_a_perfect_result_scores_full_marks(self):
        got = self.figures()
        for key in ("wire_count", "wire_numbers", "wire_faults", "gap_recall", "gap_sized",
                    "braid_angle_right", "class_right"):
            self.assertEqual(got[key], 1.0, key)
        self.assertEqual(got["wire_alarms"], 0.0)
        self.assertEqual(got["tilt_alarms"], 0.0)
        self.assertLess(got["liner_median"], 1e-9)
        self.assertLess(got["bond_offset_median"], 1e-9)
        self.assertLess(got["ring_median"], 1e-6)
        self.assertEqual(got["rings_missing"], 0.0)

    def test_picks_and_coverage_are_held_against_the_braid_formula(self):
        # 16 carriers of 14 px at 45 degrees on a layer of 330 px: P = 16 tan a / (pi D), F = P d / sin a.
        picks_px = 16 / (2 * math.pi * 660)
        fill = picks_px * 14 / math.sin(math.radians(45))
        truth = built_truth()
        design = {"sections": {"face": {"wires": {"braid": {"carriers": 16, "ends": 1, "round": 0.03}}}}}
        mm = np.mean(truth["pitch_um"]) / 1000
        for stretch, right in ((1.0, True), (1.09, True), (1.11, False)):
            told = {"measurements": [
                {"of": ["braid"], "quantity": "picks_per_mm", "value": stretch * picks_px / mm},
                {"of": ["braid"], "quantity": "coverage", "value": stretch * 100 * (2 * fill - fill**2)}]}
            got = judge_braid(truth, told, design)
            for word in ("picks_per_mm", "coverage"):
                self.assertAlmostEqual(got[word][0], stretch - 1, places=9)
                self.assertEqual(abs(got[word][0]) <= BRAID_WITHIN, right)
        self.assertEqual(judge_braid(truth, None, design), {"picks_per_mm": [None], "coverage": [None]})

    def test_a_missing_wire_is_judged_by_its_slot(self):
        def moved(deg):
            turn = math.radians(deg)
            def change(wires):
                at = (np.asarray(wires[MISSING - 1]["centroid_um"]) - to_um(ABOUT))
                back = [[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]]
                wires[MISSING - 1]["centroid_um"] = (np.asarray(back) @ at + to_um(ABOUT)).tolist()
            return self.wires(change)
        # Half an axis of 20 px is 1.7 degrees at 330 px.
        self.assertEqual(moved(3.5)["wire_faults"], 1.0)
        self.assertLess(moved(4.5)["wire_faults"], 1.0)

    def test_a_ring_is_off_by_its_distance_and_missing_when_not_told(self):
        def grow(result):
            edge = result["features"]["rings"]["adhesive"]["inner"]
            edge["contour_um"] = to_um(circle(*ABOUT, 347, 360))
        # Chords of one degree lie 0.013 px inside their circles.
        self.assertAlmostEqual(self.figures(grow)["ring_median"], 2.0, delta=0.02)
        got = self.figures(lambda r: r["features"].pop("rings"))
        self.assertIsNone(got["ring_median"])
        self.assertEqual(got["rings_missing"], 1.0)

    def test_a_bond_gap_that_the_frame_cuts_is_left_out(self):
        # Nobody tells it: half of it lies left of the picture.
        cut = {"class": "bond gap", "of": "adhesive", "about_px": [0.0, 450.0], "from_deg": 60.0, "to_deg": 120.0,
               "width_px": 15.0,
               "contour_px": (np.asarray(ring_sector(345, 360, 60, 120)) - ABOUT + [0.0, 450.0]).tolist()}
        self.assertEqual(self.figures(None, lambda t: t["artefacts"].append(cut))["gap_recall"], 1.0)
        whole = dict(cut, contour_px=(np.asarray(cut["contour_px"]) + [400.0, 0.0]).tolist())
        self.assertEqual(self.figures(None, lambda t: t["artefacts"].append(whole))["gap_recall"], 0.5)

    def test_a_liner_gap_is_found_by_its_class_and_looked_for_without_wires_only(self):
        entry = {"class": "liner gap", "of": "scope", "about_px": ABOUT, "from_deg": 60.0,
                 "to_deg": 90.0, "width_px": 4.0, "contour_px": ring_sector(100, 104, 60, 90)}

        def bare(truth):
            truth["artefacts"].append(entry)
            truth["wires"], truth["wire_layers"] = [], []

        def tell(kind):
            return lambda r: r["features"]["voids"].append(
                {"no": 2, "class": kind, "contour_um": to_um(entry["contour_px"])})
        self.assertEqual(self.figures(tell("liner gap"), bare)["liner_gap_recall"], 1.0)
        self.assertEqual(self.figures(tell("void"), bare)["liner_gap_recall"], 0.0)
        self.assertIsNone(
            self.figures(None, lambda t: t["artefacts"].append(entry))["liner_gap_recall"])

    def test_no_result_tells_nothing(self):
        truth = built_truth()
        calibration = {"pixel_pitch_um": [RECORD_PITCH] * 2, "image_size_px": [1200, 900]}
        got = statistics([judge("f", truth, make_design(UNLIKE), calibration, None, None)])
        for key in ("wire_count", "wire_numbers", "wire_faults", "gap_recall", "braid_angle_right"):
            self.assertEqual(got[key], 0.0, key)

    def test_a_lost_wire_and_a_wire_too_many_spoil_the_count(self):
        self.assertEqual(self.wires(lambda w: w.pop(0))["wire_count"], 0.0)
        self.assertEqual(self.wires(lambda w: w.append(copy.deepcopy(w[0])))["wire_count"], 0.0)

    def test_a_wire_told_elsewhere_spoils_the_count(self):
        def move(wires):
            wires[0]["centroid_um"][0] += 12 * RECORD_PITCH
        self.assertEqual(self.wires(move)["wire_count"], 0.0)

    def test_families_may_be_swapped_only_as_a_whole(self):
        def swap(wires):
            for w in wires:
                w["family"], w["no"] = 3 - w["family"], (w["no"] + 7) % 16 + 1
        self.assertEqual(self.wires(swap)["wire_numbers"], 1.0)

        def one(wires):
            wires[0]["family"] = 2
        self.assertEqual(self.wires(one)["wire_numbers"], 0.0)

    def test_a_family_numbered_one_further_is_wrong_unless_a_wire_stands_at_noon(self):
        def turn(family):
            def change(wires):
                for w in wires:
                    if w["family"] == family:
                        base = 8 * (family - 1)
                        w["no"] = base + (w["no"] - base) % 8 + 1
            return change
        self.assertEqual(self.wires(turn(1))["wire_numbers"], 1.0)  # its first stands at 5 degrees
        self.assertEqual(self.wires(turn(2))["wire_numbers"], 0.0)

    def test_two_numbers_exchanged_are_caught(self):
        def change(wires):
            wires[0]["no"], wires[1]["no"] = wires[1]["no"], wires[0]["no"]
        self.assertEqual(self.wires(change)["wire_numbers"], 0.0)

    def test_a_fault_not_told_is_caught(self):
        for no, key, value in ((MISSING, "state", None), (PULLED, "state", "missing"),
                               (EXPOSED, "exposed_to", "")):
            def change(wires, no=no, key=key, value=value):
                wire = next(w for w in wires if w["no"] == no)
                if value is None:
                    wires.remove(wire)
                else:
                    wire[key] = value
            self.assertAlmostEqual(self.wires(change)["wire_faults"], 2 / 3)

    def test_a_false_alarm_is_caught(self):
        def change(wires):
            wires[0]["exposed_to"] = "scope"
        self.assertEqual(self.wires(change)["wire_alarms"], 1.0)

    def test_a_count_said_and_wrong_is_caught_and_one_not_said_is_not(self):
        def say(value):
            return lambda r: r["measurements"].append({"of": ["braid"], "quantity": "count",
                                                       "value": value, "unit": "1"})
        there = sum(w["state"] in ("wire", "extra") for w in make_wires())
        self.assertEqual(self.figures(say(float(there)))["wires_miscounted"], 0.0)
        self.assertEqual(self.figures(say(there - 1.0))["wires_miscounted"], 1.0)
        self.assertEqual(self.figures(say(None))["wires_not_counted"], 1.0)

    def test_a_bundle_beside_its_place_or_miscounted_is_caught(self):
        def change(key, value):
            return lambda r: r["features"]["fibres"][0].__setitem__(key, value)
        self.assertEqual(self.figures()["fibres_found"], 1.0)
        self.assertEqual(self.figures()["fibres_miscounted"], 0.0)
        away = to_um([BUNDLE[0] + 4, BUNDLE[1]])
        self.assertEqual(self.figures(change("centre_um", away))["fibres_found"], 0.0)
        self.assertEqual(self.figures(change("filaments", 6))["fibres_miscounted"], 1.0)
        self.assertIsNone(self.figures(lambda r: r["features"]["fibres"][0].update(
            filaments=6, doubt="one may be hidden"))["fibres_miscounted"])

    def test_a_gap_missed_misjudged_or_of_the_wrong_size_is_caught(self):
        def shorter(result):
            result["features"]["voids"][0]["contour_um"] = to_um(ring_sector(345, 360, 33, 50))
        got = self.figures(shorter)
        self.assertEqual((got["gap_recall"], got["gap_sized"]), (1.0, 0.0))
        got = self.figures(lambda r: r["features"]["voids"].clear())
        self.assertEqual(got["gap_recall"], 0.0)
        got = self.figures(lambda r: r["features"]["voids"][0].update({"class": "debris"}))
        self.assertEqual((got["gap_recall"], got["class_right"]), (0.0, 0.0))

    def test_wrong_numbers_are_caught(self):
        def add(word, by):
            def change(result):
                next(m for m in result["measurements"] if m["quantity"] == word)["value"] += by
            return change
        self.assertAlmostEqual(self.figures(add("offset", 2 * RECORD_PITCH))["bond_offset_median"], 2.0)
        self.assertAlmostEqual(self.figures(add("thickness_mean", RECORD_PITCH))["liner_median"], 1.0)
        self.assertEqual(self.figures(add("braid_angle", 3.5))["braid_angle_right"], 0.0)

    def test_tilt_is_judged_where_there_is_one_and_alarms_where_there_is_none(self):
        def tilted(truth):
            truth["pose"]["oblique_deg"] = 20.0
        for told, right in ((21.0, 1.0), (22.0, 0.0)):
            got = self.figures(lambda r, told=told: r["placement"].update(oblique_deg=told), tilted)
            self.assertEqual(got["tilt_right"], right)
        got = self.figures(lambda r: r["findings"].append({"kind": "oblique cut", "where": []}))
        self.assertEqual(got["tilt_alarms"], 1.0)


if __name__ == "__main__":
    unittest.main()
