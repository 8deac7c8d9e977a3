"""Whether the simulated HL7 FHIR export is what the standard says, by a reader that shares nothing with this project.

Run by hand, no part of the tests:

    limbledger simulate --out made-up --patients 120 --fhir
    pip install fhir.resources            # tried with 8.3.0, its models of release 4B (4.3.0)
    python crates/simulate/tests/scripts/fhir_structure.py made-up/fhir

Of the eight types used, 4B changed none that matter here against 4.0.1. Every line is parsed into the model of its type, which
refuses unknown elements, wrong types, missing required elements and unknown values of required codes. Then every reference to a
type that the export holds is followed.
"""

import importlib
import json
import sys
from pathlib import Path

folder = Path(sys.argv[1])
found, wrong, resources = {}, [], {}
for path in sorted(folder.glob("*.ndjson")):
    for number, line in enumerate(path.read_text().splitlines(), 1):
        kind = json.loads(line)["resourceType"]
        model = getattr(importlib.import_module(f"fhir.resources.R4B.{kind.lower()}"), kind)
        try:
            resource = model.model_validate_json(line)
        except Exception as error:  # the library has several kinds
            wrong.append(f"{path.name} line {number}: {error}")
            continue
        found[kind] = found.get(kind, 0) + 1
        resources[f"{kind}/{resource.id}"] = json.loads(line)

assert len(resources) == sum(found.values()), "two resources share an id"


def references(json_value):
    if isinstance(json_value, dict):
        if isinstance(json_value.get("reference"), str):
            yield json_value["reference"]
        for value in json_value.values():
            yield from references(value)
    elif isinstance(json_value, list):
        for value in json_value:
            yield from references(value)


dangling = {}
for resource in resources.values():
    for reference in references(resource):
        if reference not in resources:
            kind = reference.split("/")[0]
            dangling[kind] = dangling.get(kind, 0) + 1

print("resources of each type:", found)
print("references out of the export, by type:", dangling)
print("\n".join(wrong[:20]) or "every resource is valid")
sys.exit(bool(wrong))
