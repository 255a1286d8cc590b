"""Reads a TensorFlow.js graph model: a JSON file with nodes and a list of weights, and binary files with their values."""
import base64
import json
import os

import numpy as np

STORED = {"float32": np.float32, "int32": np.int32, "float16": np.float16}


class Node:
    """One operation. `inputs` are names of nodes, with ":1" and so on for further outputs."""

    def __init__(self, described):
        self.name = described["name"]
        self.op = described["op"]
        self.inputs = described.get("input", [])
        self._attributes = described.get("attr", {})

    def __getitem__(self, key):
        """The attribute as int, float, bool or str, or a list of int."""
        (kind, value), = self._attributes[key].items()
        if kind == "list":
            return [int(i) for i in value.get("i", [])]
        if kind == "s":
            return base64.b64decode(value).decode()
        return {"i": int, "f": float, "b": bool}[kind](value)


def read(path):
    """(nodes by name, weights by name as numpy arrays). ValueError when the files contradict each other."""
    with open(path, encoding="utf-8") as file:
        model = json.load(file)
    nodes = {n["name"]: Node(n) for n in model["modelTopology"]["node"]}
    weights = {}
    for group in model["weightsManifest"]:
        weights.update(_weights(group, os.path.dirname(path)))
    return nodes, weights


def _weights(group, folder):
    data = b""
    for name in group["paths"]:
        with open(os.path.join(folder, name), "rb") as file:
            data += file.read()
    out, at = {}, 0
    for entry in group["weights"]:
        stored = entry.get("quantization", entry)["dtype"]
        if stored not in STORED:  # scaled integers are another format
            raise ValueError(f"{entry['name']}: weights stored as {stored} are not understood")
        count = int(np.prod(entry["shape"], dtype=np.int64))
        values = np.frombuffer(data, STORED[stored], count, at)
        at += values.nbytes
        out[entry["name"]] = values.astype(STORED[entry["dtype"]]).reshape(entry["shape"])
    if at != len(data):
        raise ValueError(f"{len(data)} bytes of weights where {at} are described")
    return out
