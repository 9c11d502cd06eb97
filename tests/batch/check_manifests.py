#!/usr/bin/env python3
"""Manifests written by two other programs (openpyxl, Python's csv), read by ours and compared.

usage: check_manifests.py MANIFEST_DUMP

Writes tables with every kind of cell (shared, inline and rich text, numbers, dates of both systems,
booleans, formulas with and without a value, errors), in every dialect of CSV that csv knows.
"""
import csv
import datetime
import io
import json
import pathlib
import random
import re
import subprocess
import sys
import tempfile
import zipfile

import openpyxl
from openpyxl.utils.datetime import CALENDAR_MAC_1904

HEADS = ["image", "part", "serial", "lot", "plane", "station", "face", "taken", "operator", "trial", "factor:oven"]
WORDS = ["LV-7504", "shaft-mid", "a b", 'say "x"', "x;y,z", "tab\tin", "zwei\nZeilen", "<script>", "=1+1", "+1", "-x", "@me",
         "'quoted", "caf\u00e9", "\u00fc\u20ac\U0001f600", "&amp;", "0012"]


# A text in three runs, with a guide to pronunciation that is no part of it (ISO/IEC 29500-1, 18.4.8).
RICH = b"""<r><t xml:space="preserve">one </t></r><r><rPr><b/></rPr><t>two</t></r><r><t xml:space="preserve"> three</t></r>
<rPh sb="0" eb="1"><t>not this</t></rPh>"""


def with_parts(path, ending, change):
    """Rewrites the parts of a workbook whose names end so."""
    packed = io.BytesIO()
    with zipfile.ZipFile(path) as source, zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as target:
        for name in source.namelist():
            part = source.read(name)
            target.writestr(name, change(part) if name.endswith(ending) else part)
    path.write_bytes(packed.getvalue())


def share_texts(path):
    """Moves the texts of the cells into a table of shared strings, as most spreadsheets save them (18.4.9)."""
    texts = []

    def move(match):
        texts.append(match.group(2))
        return b"<c%s t=\"s\"><v>%d</v></c>" % (match.group(1), len(texts) - 1)

    cell = re.compile(rb'<c( r="[A-Z]+[0-9]+"(?: s="[0-9]+")?) t="inlineStr"><is>(.*?)</is></c>', re.S)
    with_parts(path, "sheet1.xml", lambda part: cell.sub(move, part))
    kind = b"http://schemas.openxmlformats.org/officeDocument/2006/relationships/sharedStrings"
    relation = b'<Relationship Id="rShared" Type="%s" Target="sharedStrings.xml"/></Relationships>' % kind
    with_parts(path, "workbook.xml.rels", lambda part: part.replace(b"</Relationships>", relation))
    with zipfile.ZipFile(path, "a") as package:
        package.writestr("xl/sharedStrings.xml", b'<?xml version="1.0"?><sst xmlns="%s">' %
                         b"http://schemas.openxmlformats.org/spreadsheetml/2006/main" +
                         b"".join(b"<si>%s</si>" % text for text in texts) + b"</sst>")
    assert len(texts) > 30


def workbook(rows, **more):
    book = openpyxl.Workbook()
    if more.get("mac"):
        book.epoch = CALENDAR_MAC_1904
    sheet = book.active
    for row in rows:
        sheet.append(row)
    for line in sheet.iter_rows(min_row=2):
        for cell in line:
            if isinstance(cell.value, str):
                cell.data_type = "s"  # "=1+1" is the text of a person here, no formula
    if more.get("second"):
        book.create_sheet("more").append(["image"])
    return book


def random_rows(generator, count):
    rows = []
    for i in range(count):
        taken = datetime.datetime(2026, 1, 1) + datetime.timedelta(seconds=generator.randrange(10**8))
        station = generator.choice([None, 400.5, 12, 0.1, -3.25, 1e-3])
        rows.append([f"{i}-{generator.choice(WORDS)}.png", generator.choice(WORDS), generator.choice(WORDS + ["", "7"]),
                     generator.choice(["", "L-1"]), generator.choice(WORDS), station, generator.choice(["", "proximal", "distal"]),
                     generator.choice([taken, datetime.datetime(2026, 4, 1)]), generator.choice(WORDS), generator.choice([None, 1, 2, 37]),
                     generator.choice(WORDS)])
    return rows


def text(value):
    if value is None:
        return ""
    if isinstance(value, datetime.datetime):
        midnight = (value.hour, value.minute, value.second) == (0, 0, 0)
        return value.strftime("%Y-%m-%d" if midnight else "%Y-%m-%dT%H:%M:%S")
    if isinstance(value, float) and value == int(value):
        return str(int(value))
    return str(value).strip(" \t\r\n")


def wanted(rows, lines):
    out = []
    for row, line in zip(rows, lines):
        one = {head: text(value) for head, value in zip(HEADS, row)}
        station = one.pop("station")
        if station:
            one["station"] = float(station)
        out.append({"line": line, **one})
    return out


def csv_tables(folder, generator):
    cases = []
    for name, options in (("comma.csv", {}), ("semicolon.csv", {"delimiter": ";"}), ("tab.csv", {"delimiter": "\t"}),
                          ("unix.csv", {"lineterminator": "\n"}), ("quoted.csv", {"quoting": csv.QUOTE_ALL})):
        rows = random_rows(generator, 40)
        table = [[text(v) if isinstance(v, datetime.datetime) else v for v in row] for row in rows]
        with open(folder / name, "w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file, **options)
            writer.writerows([HEADS] + table)
        lines, at = [], 2
        for row in table:  # a cell of two lines moves the rows behind it
            lines.append(at)
            at += 1 + sum(str(v).count("\n") for v in row)
        cases.append((name, wanted(rows, lines)))
    return cases


def main():
    dump = sys.argv[1]
    generator = random.Random(7)
    cases = []  # name, rows wanted, or a word of the error
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)

        def path(name):
            return folder / name

        def book(name, rows, **more):
            workbook([HEADS] + rows, **more).save(path(name))
            cases.append((name, wanted(rows, range(2, len(rows) + 2))))

        book("plain.xlsx", random_rows(generator, 60))
        book("mac.xlsx", random_rows(generator, 20), mac=True)
        book("second.xlsx", random_rows(generator, 3), second=True)

        workbook([HEADS, ["a.png", "", "RICH"]]).save(path("rich.xlsx"))
        with_parts(path("rich.xlsx"), "sheet1.xml", lambda part: part.replace(b"<t>RICH</t>", RICH))
        cases.append(("rich.xlsx", wanted([["a.png", "", "one two three"] + [None] * 8], [2])))
        book("shared.xlsx", random_rows(generator, 30))
        share_texts(path("shared.xlsx"))

        gaps = workbook([HEADS])
        gaps.active["A5"], gaps.active["E5"], gaps.active["A9"] = "a.png", "tip", "b.png"
        gaps.active["C9"] = True
        gaps.save(path("gaps.xlsx"))
        cases.append(("gaps.xlsx", wanted([["a.png", "", "", "", "tip"] + [None] * 6, ["b.png", "", "true"] + [None] * 8], [5, 9])))

        formula = workbook([HEADS, ["a.png"]])
        formula.active["C2"] = "=1+1"
        formula.save(path("formula.xlsx"))
        cases.append(("formula.xlsx", "cell C2: a formula without its value"))
        error = workbook([HEADS, ["a.png"]])
        error.active["C2"] = "#REF!"
        error.save(path("error.xlsx"))
        cases.append(("error.xlsx", "cell C2: holds an error value, #REF!"))

        whole = path("plain.xlsx").read_bytes()
        path("cut.xlsx").write_bytes(whole[: len(whole) // 2])
        cases.append(("cut.xlsx", "cannot be opened as XLSX"))
        path("bomb.xlsx").write_bytes(whole)  # what unpacks to very much is not unpacked
        with_parts(path("bomb.xlsx"), "sheet1.xml", lambda part: b" " * (64 << 20))
        cases.append(("bomb.xlsx", "unpacks to 64 MB"))

        cases += csv_tables(folder, generator)
        run = subprocess.run([dump] + [path(name) for name, _ in cases], capture_output=True, text=True, check=True)
        found = [json.loads(line) for line in run.stdout.splitlines()]
    bad = 0
    for (name, want), got in zip(cases, found, strict=True):
        if isinstance(want, str):
            fine = want in got.get("error", "")
        else:
            fine = got.get("rows") == want
        if name == "second.xlsx":
            fine = fine and "has 2 sheets" in got["warnings"][0]
        if fine:
            continue
        bad += 1
        print(f"{name}: not as written")
        if "error" in got or isinstance(want, str):
            print("  ", got.get("error", "no error"))
        else:
            for a, b in zip(want, got["rows"]):
                if a != b:
                    print("   wanted", a, "\n   found ", b)
                    break
    print(f"{len(cases) - bad} of {len(cases)} manifests read as written")
    return 1 if bad or len(cases) < 14 else 0


if __name__ == "__main__":
    sys.exit(main())
