#!/usr/bin/env python3
"""Recomputes the measured cells of figures.csv and table.md from records.jsonl and trials.csv.

    python3 recompute.py FILE.zip     (or without FILE.zip, in the folder it was unpacked to)

Needs Python 3 and nothing else, and trusts nothing but the records and the marks of which trial counts.
Ranks and verdicts are not recomputed here: README.txt says what they need.
"""
import csv
import io
import json
import math
import sys
import zipfile

SECONDS = 1e9  # nanoseconds in one
THROUGHPUT = {"sequentialRead", "sequentialWrite", "sustainedWrite", "cliff", "openSegmentWrite", "classWrite"}


def member(name):
    if len(sys.argv) > 1:
        with zipfile.ZipFile(sys.argv[1]) as file:
            return file.read(name).decode("utf-8")
    with open(name, encoding="utf-8", newline="") as file:
        return file.read()


def table(name):
    return list(csv.DictReader(io.StringIO(member(name), newline="")))


def trials():
    """Every trial by the key of its record. Parts of one long trial are one trial, under the key of the first."""
    runs = {}
    for line in member("records.jsonl").split("\n"):
        record = json.loads(line) if line else {}
        trial = record.get("observation", {}).get("trialMeasured")
        if trial and not record["conflicting"]:
            key = (record["epoch"], int(record["sequence"]))
            runs.setdefault(trial["runId"], []).append((int(trial.get("index", 0)), key, trial))
    whole = {}
    for parts in runs.values():
        first = None
        for _, key, trial in sorted(parts, key=lambda part: part[:2]):
            numbers = {name: int(trial.get(name, 0)) for name in ("operations", "bytes", "elapsedNs")}
            numbers["reads"] = sum(int(count) for count in trial.get("readLatency", {}).get("count", []))
            same = first and (trial.get("kind"), trial.get("repetition")) == (first["trial"].get("kind"), first["trial"].get("repetition"))
            if int(trial.get("part", 0)) > 1 and same:
                for name, value in numbers.items():
                    first[name] += value
            else:
                first = whole[key] = {"trial": trial, **numbers}
    return whole


def figure(metric, measured):
    """Operations a second, or 10^6 bytes a second. Of a class write those of its slowest unit, of swap the reads alone."""
    trial, elapsed = measured["trial"], measured["elapsedNs"]
    if metric == "classWrite":
        unit = int(trial.get("countedUnitBytes", 0)) or int(trial.get("segmentBytes", 0))
        slowest = int(trial.get("slowestUnitNs", 0))
        return unit * SECONDS / slowest / 1e6 if slowest else 0.0
    if elapsed <= 0:
        return 0.0
    if metric in THROUGHPUT:
        return measured["bytes"] * SECONDS / elapsed / 1e6
    return measured["reads" if metric == "swap" else "operations"] * SECONDS / elapsed


def median(values):
    values, middle = sorted(values), len(values) // 2
    return values[middle] if len(values) % 2 else (values[middle - 1] + values[middle]) / 2


def bounds(values):
    """The r-th smallest and the r-th largest value hold the median with 1 - 2 P(Bin(n, 1/2) < r): the largest r that reaches 97.5 %, else the range."""
    values, n, rank = sorted(values), len(values), 0
    while 2 * (rank + 1) <= n and 1000 * (2 ** n - 2 * sum(math.comb(n, k) for k in range(rank + 1))) >= 975 * 2 ** n:
        rank += 1
    return values[max(rank, 1) - 1], values[n - max(rank, 1)], rank > 0


def rounded(value, places):
    scale = 10 ** places
    return f"{round(value * scale) / scale:.{places}f}"


def cells(values):
    middle, (low, high, is_interval) = median(values), bounds(values)
    places = 0 if abs(middle) >= 1000 else 1 if abs(middle) >= 100 else 2
    mean = math.fsum(values) / len(values)
    spread = math.sqrt(math.fsum((v - mean) ** 2 for v in values) / (len(values) - 1)) if len(values) > 1 and mean else None
    found = {
        "median": rounded(middle, places), "low": rounded(low, places), "high": rounded(high, places), "runs": str(len(values)),
        "minimum": rounded(min(values), places), "maximum": rounded(max(values), places),
        "mad": rounded(median([abs(v - middle) for v in values]), places), "cv_percent": "" if spread is None else rounded(100 * spread / abs(mean), 1),
    }
    text = f"[{found['low']}–{found['high']}]" if is_interval else f"range {found['low']}–{found['high']}"
    return found, f"{found['median']} single figure n=1" if len(values) == 1 else f"{found['median']} {text} n={len(values)}"


def main():
    measured, counted = trials(), {}
    for mark in table("trials.csv"):
        if mark["counts"] == "yes":
            counted.setdefault(int(mark["row"]), []).append(measured[mark["epoch"], int(mark["sequence"])])
    published, right, wrong, known = member("table.md"), 0, 0, {}
    for number, row in enumerate(table("figures.csv"), 1):
        if number not in counted:
            continue
        found, cell = cells([figure(row["metric"], trial) for trial in counted[number]])
        known.setdefault(row["tag"], []).append(cell)
        print(f"{row['tag'] or row['identity']:24} {row['metric']:18} {cell}")
        for name, value in found.items():
            right += value == row[name]
            wrong += value != row[name]
            if value != row[name]:
                print(f"  DIFFERS: {name} is {row[name]!r} in figures.csv and {value} from the records")
    for line in published.split("\n"):
        parts = [part.strip().replace("\\", "") for part in line.split("|")]
        for tag in [part for part in parts if part and part in known][:1]:
            for part in parts:
                if " n=" in part:
                    right += part in known[tag]
                    wrong += part not in known[tag]
                    if part not in known[tag]:
                        print(f"  DIFFERS: {tag} has {part!r} in table.md, which is none of its figures")
    print(f"{right + wrong} cells recomputed, {wrong} differ.")
    return 1 if wrong or not right else 0


if __name__ == "__main__":
    sys.exit(main())
