#!/usr/bin/python3
"""What convert.py can't convert ends it with one line that names the place; nothing is written."""
import base64
import json
import os
import subprocess
import sys
import tempfile

HERE = os.path.dirname(os.path.abspath(__file__))
OUTPUTS = ["Identity"] + [f"Identity_{i}" for i in range(1, 6)]


def text(value):
    return {"s": base64.b64encode(value.encode()).decode()}


def convolution(**changed):
    attributes = {"data_format": text("NHWC"), "padding": text("VALID"), "dilations": {"list": {"i": ["1"] * 4}},
                  "strides": {"list": {"i": ["1"] * 4}}, **changed}
    return {"name": "conv", "op": "Conv2D", "input": ["turned", "kernel"], "attr": attributes}


def model(last, weights=b"\0" * 24):
    """A picture turned colour last, one node, and every output the same."""
    nodes = [{"name": "picture", "op": "Placeholder"}, {"name": "axes", "op": "Const"}, {"name": "kernel", "op": "Const"},
             {"name": "turned", "op": "Transpose", "input": ["picture", "axes"]}, last]
    nodes += [{"name": o, "op": "Identity", "input": [last["name"]]} for o in OUTPUTS]
    manifest = [{"paths": ["weights"], "weights": [
        {"name": "axes", "dtype": "int32", "shape": [4]},
        {"name": "kernel", "dtype": "float32", "shape": [1, 1, 3, 1],
         "quantization": {"dtype": "float16", "original_dtype": "float32"}}]}]
    order = b"".join(i.to_bytes(4, "little") for i in (0, 2, 3, 1))
    return {"modelTopology": {"node": nodes}, "weightsManifest": manifest}, order + weights[:8 - 2] + weights[24:]


def run(described, weights):
    with tempfile.TemporaryDirectory() as folder:
        with open(f"{folder}/model.json", "w", encoding="utf-8") as file:
            json.dump(described, file)
        with open(f"{folder}/weights", "wb") as file:
            file.write(weights)
        ended = subprocess.run([sys.executable, f"{HERE}/convert.py", f"{folder}/model.json", f"{folder}/out.onnx"],
                               capture_output=True, text=True, check=False)
        return ended.returncode, ended.stderr.strip(), os.path.exists(f"{folder}/out.onnx")


def check(name, ended, *words):
    code, said, written = ended
    good = code == 0 and written if not words else (
        code != 0 and not written and said.count("\n") == 0 and all(w in said for w in words))
    if not good:
        sys.exit(f"{name}: exit code {code}, written: {written}, said: {said}")


check("what is known", run(*model(convolution())))
check("an operation", run(*model({"name": "odd", "op": "Softplus", "input": ["turned"]})), "Softplus", "odd")
check("padding", run(*model(convolution(padding=text("SAME")))), "conv", "padding")
check("dilation", run(*model(convolution(dilations={"list": {"i": ["1", "2", "2", "1"]}}))), "conv", "dilated")
check("layout", run(*model(convolution(data_format=text("NCHW")))), "conv", "layout")
check("too many weights", run(*model(convolution(), b"\0" * 40)), "bytes of weights")
print("convert.py: known, and five refusals")
