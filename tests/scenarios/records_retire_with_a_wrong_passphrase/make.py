import pathlib
import subprocess
import sys

program = sys.argv[1]
pathlib.Path("phrase").write_text("sections are cut square\n", encoding="utf-8")


def records(*words):
    subprocess.run([program, "records", *words, "--store", "lab"], check=True, capture_output=True)


records("start", "--by", "E. Method", "--new-passphrase-file", "phrase")
pathlib.Path("wrong").write_text("sections are cut askew\n", encoding="utf-8")
