"""Flags of the QARTOD tests for made-up series, by ioos_qc, the reference code of the manual, as expected/qartod.json.

`python qartod.py` writes the file; `python qartod.py --check` works it out anew and fails where a flag has moved.
"""

import json
import pathlib
import sys

import numpy as np
from ioos_qc import qartod

FILE = pathlib.Path(__file__).resolve().parent / "expected" / "qartod.json"
SEED = 20160101
GROSS = {"fail": [-55.0, 125.0], "suspect": [-10.0, 60.0]}
SPIKE = {"suspect": 2.0, "fail": 5.0}
RATE = {"suspect_per_minute": 3.0, "fail_per_minute": 10.0}
FLAT = {"tolerance": 0.07, "suspect_s": 900, "fail_s": 1800}
SPACING_S = 300


def made_up(draw, kind, length=150):
    """A wandering temperature in sixteenths of a degree, with spikes, steps, wild values, flat stretches and holes."""
    steps = draw.normal(0, {"calm": 0.03, "lively": 0.6, "wild": 4.0}[kind], length)
    values = draw.uniform(4, 24) + np.cumsum(steps)
    for at in draw.choice(length, 8, replace=False):
        values[at] += draw.choice([-30.0, -4.0, -2.5, 2.5, 4.0, 30.0, 150.0])
    at = draw.integers(10, length - 40)
    values[at : at + 20] = values[at]
    values[draw.integers(10, length - 10) :] += draw.choice([-6.0, 6.0])
    values = np.round(values * 16) / 16
    values[draw.choice(length, 5, replace=False)] = np.nan
    # Uneven: from a second to five minutes apart.
    seconds = np.cumsum(draw.choice([1, 10, 60, 61, 120, 300], length))
    return seconds, values


def flags(found):
    return "".join(str(int(flag)) for flag in found)


def series(draw, kind):
    seconds, values = made_up(draw, kind)
    even = np.arange(len(values)) * SPACING_S
    times = lambda moments: np.datetime64("2026-03-01T00:00:00") + moments.astype("timedelta64[s]")
    # Between a value and one that is missing no rate is known there; the tests of rate and flatness here have none missing.
    whole = np.where(np.isnan(values), 20.0, values)
    spike = {"suspect_threshold": SPIKE["suspect"], "fail_threshold": SPIKE["fail"]}
    return {
        "kind": kind,
        "seconds": [int(second) for second in seconds],
        "values": [None if np.isnan(value) else float(value) for value in values],
        "gross": flags(qartod.gross_range_test(inp=values, fail_span=GROSS["fail"], suspect_span=GROSS["suspect"])),
        "spike": flags(qartod.spike_test(inp=values, **spike)),
        "lone_spike": flags(qartod.spike_test(inp=values, method="differential", **spike)),
        "rate": flags(
            qartod.rate_of_change_test(
                inp=whole,
                tinp=times(seconds),
                threshold=RATE["suspect_per_minute"] / 60,
                fail_threshold=RATE["fail_per_minute"] / 60,
            )
        ),
        "flat": flags(
            qartod.flat_line_test(
                inp=whole,
                tinp=times(even),
                suspect_threshold=FLAT["suspect_s"],
                fail_threshold=FLAT["fail_s"],
                tolerance=FLAT["tolerance"],
            )
        ),
    }


def main():
    draw = np.random.default_rng(SEED)
    rows = [series(draw, kind) for kind in ["calm", "lively", "wild"] for _ in range(8)]
    limits = {"gross": GROSS, "spike": SPIKE, "rate": RATE, "flat": FLAT, "spacing_s": SPACING_S}
    text = json.dumps({"by": "ioos_qc 3.0.0", "seed": SEED, "limits": limits, "series": rows}, indent=None) + "\n"
    text = text.replace('{"kind"', '\n{"kind"')
    if "--check" not in sys.argv[1:]:
        FILE.write_text(text)
        print(f"qartod.json: written, {len(rows)} series")
    elif FILE.read_text() != text:
        print("qartod.json holds other flags than ioos_qc gives")
        sys.exit(1)
    else:
        print(f"qartod.json: {len(rows)} series flagged anew, all the same")


main()
