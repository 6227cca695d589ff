# Needs: Python 3.10 or later, iiif-prezi3 3.1.1 and cromulent 1.0.1 (PyPI, both Apache-2.0):
# `pip install iiif-prezi3==3.1.1 cromulent==1.0.1`.
#
# Writes beside it schemas/iiif-manifest.json and schemas/iiif-annotation-page.json (JSON Schema as
# iiif-prezi3 derives it from its models of IIIF Presentation 3 and its annotations) and
# schemas/linked-art.json (for each class of cromulent's model of Linked Art the properties that it
# may have, with the classes that they may lead to). Run: python3 make_schemas.py
import json
import os

import iiif_prezi3
from cromulent import model

here = os.path.join(os.path.dirname(os.path.abspath(__file__)), "schemas")
os.makedirs(here, exist_ok=True)


def write(name, value):
    with open(os.path.join(here, name), "w", encoding="utf-8") as f:
        json.dump(value, f, separators=(",", ":"), sort_keys=True)
        f.write("\n")


write("iiif-manifest.json", iiif_prezi3.Manifest.model_json_schema(by_alias=True))
write("iiif-annotation-page.json", iiif_prezi3.AnnotationPage.model_json_schema(by_alias=True))

classes = {}
for name in dir(model):
    c = getattr(model, name)
    if isinstance(c, type) and issubclass(c, model.BaseResource) and c is not model.BaseResource:
        classes[c.__name__] = c


def below(c):
    return sorted({t for t, k in classes.items() if issubclass(k, c)})


defs = {}
for name, c in classes.items():
    properties = {"id": {"type": "string"}, "type": {"const": name}, "_label": {"type": "string"}}
    done = set()
    for k in c._classhier:
        for prop, info in k._all_properties.items():
            if prop in done or prop in properties or not info.profile_okay:
                continue
            done.add(prop)
            many = bool(info.multiple_okay)
            kind = info.range
            if isinstance(kind, type) and issubclass(kind, model.BaseResource):
                group = "any" + kind.__name__
                # By the type that it says it is of, so that one class is tried and not all
                defs[group] = {
                    "required": ["type"],
                    "properties": {"type": {"enum": below(kind)}},
                    "allOf": [
                        {"if": {"properties": {"type": {"const": t}}}, "then": {"$ref": f"#/$defs/{t}"}}
                        for t in below(kind)
                    ],
                }
                one = {"$ref": f"#/$defs/{group}"}
            elif kind is int or kind is float:
                one = {"type": "number"}
            else:
                one = {"type": ["string", "number"]}
            properties[prop] = {"type": "array", "items": one} if many and "$ref" in json.dumps(one) else one
    defs[name] = {
        "type": "object",
        "properties": properties,
        "required": ["type"],
        "additionalProperties": False,
    }
top = {"properties": {"@context": {"const": "https://linked.art/ns/v1/linked-art.json"}}, "required": ["@context", "id"]}
for name in ("HumanMadeObject", "Activity"):
    d = json.loads(json.dumps(defs[name]))
    d["properties"]["@context"] = top["properties"]["@context"]
    d["required"] = ["@context", "id", "type", "_label"]
    defs[name + "Record"] = d
write("linked-art.json", {
    "$schema": "https://json-schema.org/draft/2020-12/schema",
    "properties": {"type": {"enum": ["HumanMadeObject", "Activity"]}},
    "allOf": [
        {"if": {"properties": {"type": {"const": t}}}, "then": {"$ref": f"#/$defs/{t}Record"}}
        for t in ("HumanMadeObject", "Activity")
    ],
    "required": ["type"],
    "$defs": defs,
})
