#!/usr/bin/env python3
"""Prints what a run's verdicts cost and save, against the truth of a generated set.

    burstsieve cull --dry-run --json DIR > verdicts.jsonl
    tools/season-table.py DIR/truth.json verdicts.jsonl [frame.csv]

Rows: the truth about a frame; columns: the verdict. With a third name, every frame's row is written there."""
import collections
import csv
import json
import math
import statistics
import sys

ROWS = ["best of its pose, sound", "best of its pose, but ruined", "ruined", "other sound frames"]
COLUMNS = ["keep", "undecided", "reject"]


def row_of(frame):
    if frame["best_of_pose"]:
        return ROWS[1] if frame["ruined"] else ROWS[0]
    return ROWS[2] if frame["ruined"] else ROWS[3]


def key(path):
    return "/".join(path.split("/")[-3:])


def verdicts(path):
    """Path below the folder -> what was said of the frame, of the JSON Lines that `cull --json` prints."""
    out = {}
    with open(path, encoding="utf-8") as lines:
        for line in lines:
            record = json.loads(line)
            for frame in record["frames"] if record["type"] == "burst" else []:
                for kind in ("raw", "jpeg"):
                    if kind in frame:
                        out[key(frame[kind]["path"])] = frame
    return out


def blur_errors(pairs):
    """By what was in focus: the median of |read - true| / true, and how many read as less than 3/4 of it."""
    by_focus = collections.defaultdict(list)
    for truth, said in pairs:
        read = said.get("measures", {}).get("blur_sigma_px")
        if not read or truth["motion_px"] > 1.5:
            continue
        # The measure does not count the pixel's own aperture (1/12 px^2).
        true = math.sqrt(max(0.01, truth["blur_sigma_px"] ** 2 - 1 / 12))
        by_focus[truth["focus_on"]].append((read["value"] - true) / true)
    for focus, errors in sorted(by_focus.items()):
        low = sum(e < -0.25 for e in errors)
        yield focus, len(errors), statistics.median(abs(e) for e in errors), low


def main():
    if len(sys.argv) not in (3, 4):
        sys.exit(__doc__)
    with open(sys.argv[1], encoding="utf-8") as file:
        truth = json.load(file)
    said = verdicts(sys.argv[2])
    counts, rows, missing, pairs = collections.Counter(), [], 0, []
    for burst in truth["bursts"]:
        for frame in burst["frames"]:
            found = next((said[key(f)] for f in frame["files"] if key(f) in said), None)
            if found is None:
                missing += 1
                continue
            verdict = found["verdict"]
            pairs.append((frame, found))
            counts[row_of(frame), verdict] += 1
            rows.append([frame["files"][0], row_of(frame), verdict, " ".join(frame["faults"])])
    print("| truth | " + " | ".join(COLUMNS) + " |\n|---|" + "---|" * len(COLUMNS))
    for row in ROWS:
        print(f"| {row} | " + " | ".join(str(counts[row, c]) for c in COLUMNS) + " |")
    print("\n| in focus | frames | median error of blur_sigma_px | read under 3/4 of the truth |\n|---|---|---|---|")
    for focus, count, error, low in blur_errors(pairs):
        print(f"| {focus} | {count} | {error:.2f} | {low} |")
    if missing:
        print(f"\n{missing} frames of the truth have no verdict", file=sys.stderr)
    if len(sys.argv) == 4:
        with open(sys.argv[3], "w", newline="", encoding="utf-8") as file:
            csv.writer(file).writerows(rows)


if __name__ == "__main__":
    main()
