"""usage: validate.py SCHEMA RECORDS: one line a record, "valid" or "invalid: why".

RECORDS is a file with one JSON text a line. Uses jsonschema, a validator that we did not write.
"""
import json
import sys

import jsonschema

with open(sys.argv[1], encoding="utf-8") as file:
    schema = json.load(file)
jsonschema.Draft7Validator.check_schema(schema)
validator = jsonschema.Draft7Validator(schema)
with open(sys.argv[2], encoding="utf-8") as file:
    for line in file:
        error = next(iter(validator.iter_errors(json.loads(line))), None)
        print("valid" if error is None else f"invalid: {error.message}")
