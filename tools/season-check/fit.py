#!/usr/bin/env python3
"""Fits the models of src/rank/beyond.cpp: how sure is it that the truth lies beyond a limit?

  burstsieve-generate DIR --set season --bursts 100 --seed 7001; burstsieve-season DIR --dump 7001.tsv
  fit.py 7001.tsv 7002.tsv --held 4242.tsv

Prints the coefficients and, for tuning and held-out seasons, of the frames in each band of the answer the
share whose truth is beyond the limit. Limits are moved over the range in which a user may set them, so that the
models hold for each. Needs Debian's python3-numpy.
"""
import argparse

import numpy as np

COLUMNS = dict(burst=1, pose=2, state=3, faults=4, verdict=5, group=6, place=7, blur=8, motion=9, motion_of=10, whites=11, cut=12,
               head_visible=13, raw=14, measures=17, file=18)


def read(path):
    frames = []
    for line in open(path):
        cells = line.rstrip("\n").split("\t")
        frame = {name: cells[i] for name, i in COLUMNS.items()}
        measures = {}
        for item in frame["measures"].split():
            name, rest = item.split("=")
            value, confidence = rest.split("@")
            measures[name] = (float(value), float(confidence))
        frame["measures"] = measures
        frames.append(frame)
    return frames


def steps(value, limit, floor):
    return np.log2(max(value, floor * limit) / limit)


def streak(frame):
    return 0.0 if frame["motion_of"] in ("none", "pan") else float(frame["motion"])


# Blur that a viewer meets: as rank::effective_blur(), of the truth.
def true_softness(frame):
    return float(np.hypot(float(frame["blur"]), streak(frame) / np.sqrt(24)))


def soft_row(frame, limit):
    m = frame["measures"]
    if "blur_sigma_px" not in m:
        return None
    blur = m["blur_sigma_px"][0]
    texture = m.get("texture_blur_px")
    row = [1, steps(blur, limit, .25), steps(texture[0], limit, .25) if texture else 0, 0 if texture else 1]
    return row, true_softness(frame) > limit


def streak_row(frame, limit):
    m = frame["measures"].get("motion_px")
    if not m or m[0] <= 0:
        return None
    return [1, steps(m[0], limit, .25), m[1] - .9], streak(frame) > limit


def cut_row(frame, limit):
    m = frame["measures"].get("cut_by_edge")
    if not m or m[0] <= 0:
        return None
    return [1, steps(m[0], limit, .05)], float(frame["cut"]) > limit


def lost_whites(m):
    if "white_gone" in m:
        return m["white_gone"][0] + m.get("white_partly", (0, 0))[0]
    if "white_clipped_g" not in m:
        return None
    return max(m["white_clipped_g"][0], min(m["white_clipped_r"][0], m["white_clipped_b"][0]))


def whites_row(frame, limit):
    lost = lost_whites(frame["measures"])
    if not lost:
        return None
    return [1, steps(lost, limit, .05)], float(frame["whites"]) > limit


FLOOR = .75  # rank::kSharpAsCanBe
SURELY = 1.1  # truly softer: by more than a tenth


def effective(m):
    c = m.get("motion_px", (0, 0))
    return max(FLOOR, np.hypot(m["blur_sigma_px"][0], np.sqrt(c[1] / 24) * c[0]))


# A frame against the best of its group, both measured; truth only where their posture is the same.
def pair_rows(frames):
    groups = {}
    for f in frames:
        if "blur_sigma_px" in f["measures"]:
            groups.setdefault((f["burst"], f["group"]), []).append(f)
    for group in groups.values():
        best = min(group, key=lambda f: effective(f["measures"]))
        for f in group:
            if f is best or f["pose"] != best["pose"]:
                continue
            a, b = f["measures"], best["measures"]
            texture = 0
            if "texture_blur_px" in a and "texture_blur_px" in b:
                texture = np.log2(max(FLOOR, a["texture_blur_px"][0]) / max(FLOOR, b["texture_blur_px"][0]))
            row = [1, np.log2(effective(a) / effective(b)), texture]
            if row[1] > 0:
                yield row, true_softness(f) > SURELY * true_softness(best)


MODELS = {
    "softer": (soft_row, [1.6, 1.9, 2.2, 2.5, 2.9]),
    "streaked": (streak_row, [4, 5, 6, 7.5, 9]),
    "cut": (cut_row, [.06, .1, .15]),
    "clipped": (whites_row, [.03, .05, .1]),
    "softer than": (pair_rows, None),
}


def table(frames, rows_of, limits):
    rows, truth = [], []
    if limits is None:
        made = list(rows_of(frames))
        return np.array([r for r, _ in made], float), np.array([t for _, t in made], float)
    for limit in limits:
        for frame in frames:
            made = rows_of(frame, limit)
            if made:
                rows.append(made[0])
                truth.append(made[1])
    return np.array(rows, float), np.array(truth, float)


# Newton's method with a small ridge: a fault without an exception must not get an infinite weight.
def fitted(x, y, ridge=1.0):
    w = np.zeros(x.shape[1])
    for _ in range(60):
        p = 1 / (1 + np.exp(-x @ w))
        gradient = x.T @ (y - p) - ridge * w * (np.arange(len(w)) > 0)
        hessian = (x * (p * (1 - p))[:, None]).T @ x + ridge * np.eye(len(w))
        w += np.linalg.solve(hessian, gradient)
    return w


def show(name, x, y, w):
    p = 1 / (1 + np.exp(-x @ w))
    for low, high in ((0, .25), (.25, .5), (.5, .75), (.75, .9), (.9, 1.01)):
        band = (p >= low) & (p < high)
        if band.any():
            print(f"  {name} {low:.2f}-{min(high, 1):.2f}: {int(y[band].sum())} of {band.sum()}"
                  f" beyond ({y[band].mean():.2f}, said {p[band].mean():.2f})")


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("tuning", nargs="+")
    parser.add_argument("--held", nargs="*", default=[])
    options = parser.parse_args()
    tuning = sum((read(p) for p in options.tuning), [])
    held = sum((read(p) for p in options.held), [])
    for name, (rows_of, limits) in MODELS.items():
        x, y = table(tuning, rows_of, limits)
        w = fitted(x, y)
        print(f"{name}: {', '.join(f'{v:.2f}' for v in w)}   ({len(y)} rows, {int(y.sum())} beyond)")
        show("tuning  ", x, y, w)
        if held:
            show("held out", *table(held, rows_of, limits), w)


if __name__ == "__main__":
    main()
