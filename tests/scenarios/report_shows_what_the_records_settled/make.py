"""A failing face measured into a store, its open rows and findings settled by an inspector, and signed."""
import json
import pathlib
import subprocess
import sys

program = sys.argv[1]
root = pathlib.Path(__file__).resolve().parents[3]
design, bench = root / "sample-images/LV-7504.design.json", root / "calibration/demo-bench-5x.calibration.json"
pathlib.Path("phrase").write_text("sections are cut square\n", encoding="utf-8")
pathlib.Path("faces").mkdir()
pathlib.Path("faces/B-07.png").write_bytes((root / "sample-images/LV-7504-thin-septum.png").read_bytes())


def cutface(*words, status=0):
    run = subprocess.run([program, *words], capture_output=True, text=True, check=False)
    assert run.returncode == status, (words, run.stdout, run.stderr)
    return run.stdout


def records(command, *words, by="I. Measure", status=0):
    return cutface("records", command, *words, "--store", "lab", "--by", by, "--passphrase-file", "phrase", status=status)


cutface("records", "start", "--store", "lab", "--by", "E. Method", "--new-passphrase-file", "phrase")
records("admit", "I. Measure", "--role", "inspector", "--new-passphrase-file", "phrase", by="E. Method")
records("add", design, by="E. Method")
cutface("batch", "faces", "--design", design, "--section", "extrusion", "--pattern", "{serial}.png", "--calibration", bench,
        "--out", "run", "--records", "lab", "--inspector", "I. Measure", status=1)
listed = cutface("records", "list", "--kind", "result", "--store", "lab", "--json")
entry = str(json.loads(listed)["seq"])
records("sign", entry, "--meaning", "measured", status=1)  # refused: something stands open
for item in json.loads(cutface("records", "show", entry, "--store", "lab", "--json"))["state"]["open"]:
    of = ["--row", item["row"]] if "row" in item else ["--finding", str(item["finding"])]
    records("dispose", entry, *of, "--as", "scrap", "--reason", "the septum is too thin")
records("sign", entry, "--meaning", "measured")
