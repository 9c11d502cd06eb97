#!/usr/bin/env python3
"""Follows the chain of a store without any code of the program: prints how many entries it has and the last hash.

usage: check_chain.py STORE     exit status 1 at the first entry that does not fit
"""
import hashlib
import json
import sqlite3
import sys


def main():
    store = sqlite3.connect(f"file:{sys.argv[1]}?mode=ro", uri=True)
    columns = "seq, kind, written, who, part, lot, serial, about, body, previous, hash"
    count, last = 0, ""
    for row in store.execute(f"SELECT {columns} FROM cutface_entries ORDER BY seq"):
        *fields, own = row
        text = json.dumps(["cutface/entry", 1, *fields], ensure_ascii=False, separators=(",", ":"))
        canonical = json.dumps(json.loads(row[8]), ensure_ascii=False, separators=(",", ":"), sort_keys=True)
        if fields[0] != count + 1 or fields[-1] != last or canonical != row[8]:
            return f"entry {fields[0]} does not follow, or its body is not canonical"
        if hashlib.sha256(text.encode("utf-8")).hexdigest() != own:
            return f"entry {fields[0]}: hash differs"
        count, last = count + 1, own
    print(count, last)
    return 0


if __name__ == "__main__":
    sys.exit(main())
