"""Seeds to sow by scipy's binomial, as expected/planning.json; and a calendar as the PyPI package icalendar reads it.

`python planning.py` writes the file; `python planning.py --check` works it out anew and fails where a value has moved.
"""

import datetime
import pathlib

import icalendar
import numpy as np
from scipy.stats import binom, nbinom

from expected import keep, value

CALENDAR = pathlib.Path(__file__).resolve().parent.parent / "data" / "plan.ics"


def seeds_for(plants, confidence, shares):
    """The fewest seeds with which the mean over shares of P(X >= plants) reaches the confidence, one more at a time."""
    shares = np.array(shares)
    seeds = plants
    while binom.sf(plants - 1, seeds, shares).mean() < confidence:
        seeds += 1
    return seeds, binom.sf(plants - 1, seeds, shares).mean()


def main():
    problems, cases = [], []
    draw = np.random.default_rng(20270110)
    for plants in (1, 3, 12, 60, 200):
        for confidence in (0.5, 0.8, 0.9, 0.99):
            share = float(np.round(draw.uniform(0.2, 0.95), 4))
            mixed = [float(np.round(x, 4)) for x in draw.beta(6, 3, 40)]
            for shares in ([share], mixed):
                seeds, chance = seeds_for(plants, confidence, shares)
                if len(shares) == 1:
                    by_trials = int(nbinom.ppf(confidence, plants, share)) + plants
                    if by_trials != seeds:
                        problems.append(f"{plants} at {share}: {seeds} by counts, {by_trials} by trials")
                cases.append({"plants": plants, "confidence": confidence, "shares": shares, "seeds": seeds, "chance": value(chance, 1e-9)})

    calendar = icalendar.Calendar.from_ical(CALENDAR.read_bytes())
    events = calendar.walk("VEVENT")
    if len(events) != 2 or len({str(event["UID"]) for event in events}) != 2:
        problems.append(f"{len(events)} events in {CALENDAR.name}, of which each has a UID of its own")
    for event in events:
        day, end = event.decoded("DTSTART"), event.decoded("DTEND")
        if type(day) is not datetime.date or end - day != datetime.timedelta(days=1):
            problems.append(f"{event['UID']}: {day} to {end} is not one whole day")
        if event.decoded("DTSTAMP") != datetime.datetime(2027, 1, 10, 12, tzinfo=datetime.timezone.utc):
            problems.append(f"{event['UID']}: stamped {event.decoded('DTSTAMP')}")
        if event.errors:
            problems.append(f"{event['UID']}: {event.errors}")
    awkward = "Sow, then; look \\ twice"
    if str(events[0]["SUMMARY"]) != awkward or str(events[0]["DESCRIPTION"]) != "First line\nsecond, " + "ä" * 60:
        problems.append(f"{events[0]['SUMMARY']!r}, {events[0]['DESCRIPTION']!r}")
    keep("planning.json", {"seeds": cases}, problems)


if __name__ == "__main__":
    main()
