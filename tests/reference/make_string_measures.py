"""Reference values for the string measures that the weighing stands beside.

Made with rapidfuzz 3.14.6 (PyPI):
    pip install rapidfuzz
    python tests/reference/make_string_measures.py > tests/reference/string_measures.json
"""
import json

from rapidfuzz.distance import JaroWinkler, Levenshtein

PAIRS = [
    ("MARTHA", "MARHTA"),
    ("DIXON", "DICKSONX"),
    ("DWAYNE", "DUANE"),
    ("thackwray & son", "thackvvray & 5on"),
    ("penmarrow & co", "pemnarrow & co"),
    ("31 peverell street", "81 peverel street"),
    ("josiah ravensby", "jos ravensby"),
    ("", "kendal"),
    ("kendal", "kendal"),
    ("rothcaster", "harrowick"),
]

print(
    json.dumps(
        [
            {
                "a": a,
                "b": b,
                "jaro_winkler": JaroWinkler.similarity(a, b, prefix_weight=0.1),
                "levenshtein": Levenshtein.distance(a, b),
                "normalised_levenshtein": Levenshtein.normalized_similarity(a, b),
            }
            for a, b in PAIRS
        ],
        indent=1,
    )
)
