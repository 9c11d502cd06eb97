import pathlib
import sqlite3
import subprocess
import sys

program = sys.argv[1]
pathlib.Path("phrase").write_text("sections are cut square\n", encoding="utf-8")


def records(*words):
    subprocess.run([program, "records", *words, "--store", "lab"], check=True, capture_output=True)


records("start", "--by", "E. Method", "--new-passphrase-file", "phrase")
with sqlite3.connect("lab") as store:
    store.execute("DROP TRIGGER cutface_no_update")
    store.execute("UPDATE cutface_entries SET body = replace(body, 'engineer', 'inspector') WHERE seq = 2")
