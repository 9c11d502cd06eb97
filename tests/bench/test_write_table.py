#!/usr/bin/python3
"""The table writer puts the score files' figures between the markers and touches nothing else."""

import os
import tempfile
import unittest

import write_table


def figures(complete, seconds):
    keys = [row[0] for row in write_table.ROWS]
    row = {"true": 40, "measured": 40, "not_measured": 0.0, "coverage": 0.80,
           "coverage_interval": [0.64, 0.91], "half_median": 0.5, "rms": 0.25, "sharpness": 1.0,
           "sharpness_robust": 1.4}
    return {**dict.fromkeys(keys), "complete": complete, "seconds": seconds,
            "cpu_seconds": seconds, "faces": 300,
            "seeds": [1, 300], "quantities": {"septum (pair)": row}}


def score_file(complete, seconds, name="hard-1"):
    return {"sets": {"hard": figures(complete, seconds)},
            "faces": [{"set": "hard", "name": name, "code": "exit 3: image-blurred"}]}


BEGIN, END = write_table.markers("accuracy")


class WriteTableTest(unittest.TestCase):
    def test_both_programs_stand_side_by_side(self):
        text = write_table.render(score_file(0.981, 0.02), score_file(0.5, 0.5))
        row = next(li for li in text.splitlines() if li.startswith("| faces complete"))
        self.assertEqual([c.strip() for c in row.strip("|").split("|")],
                         ["faces complete", "98.1 %", "50.0 %", ">= 97.0 %"])
        row = next(li for li in text.splitlines() if "wall time" in li)
        self.assertIn("| 25.0 |", row)
        self.assertIn("1 x exit 3: image-blurred", text)
        self.assertIn("seeds 1 to 300", text)

    def test_missed_targets_are_bold(self):
        text = write_table.render(score_file(0.95, 0.02))
        self.assertIn("**95.0 %**", text)
        self.assertIn("**80.0 %**", text)  # coverage whose interval ends below 93 %

    def test_score_files_over_other_faces_are_refused(self):
        with self.assertRaisesRegex(SystemExit, "same faces"):
            write_table.render(score_file(1, 1), score_file(1, 1, name="hard-2"))

    def test_only_the_text_between_the_markers_changes(self):
        with tempfile.TemporaryDirectory() as folder:
            path = os.path.join(folder, "page.md")
            with open(path, "w", encoding="utf-8") as file:
                file.write(f"head\n{BEGIN}\nold\n{END}\ntail\n")
            for text in ("new", "newer"):
                write_table.fill(path, text)
                with open(path, encoding="utf-8") as file:
                    self.assertEqual(
                        file.read(),
                        f"head\n{BEGIN}\n{text}\n{END}\ntail\n")

    def test_page_without_markers_is_refused_and_left_alone(self):
        with tempfile.TemporaryDirectory() as folder:
            path = os.path.join(folder, "page.md")
            with open(path, "w", encoding="utf-8") as file:
                file.write("no markers")
            with self.assertRaisesRegex(SystemExit, "markers"):
                write_table.fill(path, "new")
            with open(path, encoding="utf-8") as file:
                self.assertEqual(file.read(), "no markers")


if __name__ == "__main__":
    unittest.main()
