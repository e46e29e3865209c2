"""Keeps computed values in expected/*.json, each with the tolerance that a recomputation and the Rust tests must meet.

`python script.py` writes the file; `python script.py --check` recomputes and fails where a value has moved.
"""

import json
import pathlib
import sys

FOLDER = pathlib.Path(__file__).resolve().parent / "expected"


def value(number, tolerance):
    """A computed number and how far a recomputation may differ."""
    return {"value": float(number), "tolerance": tolerance}


def printed(problems, what, computed, text):
    """Compares a computed number with one printed elsewhere, to the digits printed."""
    decimals = len(text.split(".")[1]) if "." in text else 0
    if abs(computed - float(text)) > 0.5000001 * 10.0**-decimals:
        problems.append(f"{what}: computed {computed:.{decimals + 3}f}, printed {text}")


def flatten(tree, path=""):
    if isinstance(tree, dict) and set(tree) == {"value", "tolerance"}:
        yield path, tree
    elif isinstance(tree, dict):
        for key, branch in tree.items():
            yield from flatten(branch, f"{path}/{key}")
    elif isinstance(tree, list):
        for index, branch in enumerate(tree):
            yield from flatten(branch, f"{path}/{index}")


def keep(name, results, problems):
    """Writes or checks one file; the exit status says how it went."""
    file = FOLDER / name
    if "--check" in sys.argv[1:]:
        old, new = dict(flatten(json.loads(file.read_text()))), dict(flatten(results))
        if old.keys() != new.keys():
            problems.append(f"{name} holds other values than are computed: {sorted(old.keys() ^ new.keys())}")
        for path in old.keys() & new.keys():
            if not abs(old[path]["value"] - new[path]["value"]) <= old[path]["tolerance"]:
                problems.append(f"{name}{path}: kept {old[path]['value']}, computed {new[path]['value']}")
        print(f"{name}: {len(new)} values recomputed, {len(problems)} problems")
    else:
        file.write_text(json.dumps(results, indent=1) + "\n")
        print(f"{name}: written, {len(dict(flatten(results)))} values, {len(problems)} problems")
    for problem in problems:
        print(f"  {problem}")
    sys.exit(1 if problems else 0)
