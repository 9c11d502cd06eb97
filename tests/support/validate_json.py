#!/usr/bin/env python3
"""Validates JSON files against a JSON Schema with a validator that is not ours (python3-jsonschema).

usage: validate_json.py [--strict] SCHEMA FILE...
  --strict  also rejects keys that the schema does not describe (a result schema tolerates them)
Prints one line per violation; exit status 1 when there is one, 2 when the call is wrong.
"""
import json
import sys

import jsonschema


def unique_keys(pairs):
    keys = [key for key, _ in pairs]
    for key in keys:
        if keys.count(key) > 1:
            raise ValueError(f"key {key!r} stands twice")
    return dict(pairs)


def no_constant(word):
    raise ValueError(f"{word} is not JSON")  # Python's reader would accept NaN and Infinity


def closed(schema):
    """The schema with additionalProperties: false wherever properties are described."""
    if isinstance(schema, list):
        return [closed(part) for part in schema]
    if not isinstance(schema, dict):
        return schema
    result = {key: closed(part) for key, part in schema.items()}
    # Conditions are no descriptions, and what others embed says so in a comment.
    described = schema.get("type") in ("object", ["object", "null"]) and isinstance(schema.get("properties"), dict)
    embedded = "embedded" in schema.get("$comment", "")
    if described and "additionalProperties" not in schema and not embedded:
        result["additionalProperties"] = False
    return result


def main(arguments):
    strict = "--strict" in arguments
    arguments = [argument for argument in arguments if argument != "--strict"]
    if len(arguments) < 2:
        print(__doc__, file=sys.stderr)
        return 2
    with open(arguments[0], encoding="utf-8") as file:
        schema = json.load(file)
    jsonschema.Draft7Validator.check_schema(schema)
    validator = jsonschema.Draft7Validator(closed(schema) if strict else schema)
    bad = False
    for name in arguments[1:]:
        with open(name, encoding="utf-8") as file:
            try:
                value = json.load(file, object_pairs_hook=unique_keys, parse_constant=no_constant)
            except ValueError as error:
                print(f"{name}: {error}")
                bad = True
                continue
        for error in validator.iter_errors(value):
            where = "/".join(str(part) for part in error.absolute_path) or "top level"
            print(f"{name}: {where}: {error.message[:200]}")
            bad = True
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
