// An invented shoot of any size for the stand-in server: bursts, poses, verdicts and reasons as the engine would give them.
// The same number gives the same shoot.

/** A small generator of numbers in [0,1), the same for the same seed (mulberry32; constants from memory). */
export function dice(seed) {
  let a = seed >>> 0;
  return () => {
    a = (a + 0x6d2b79f5) >>> 0;
    let t = a;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

// Names that a card could carry and that must not become markup, nor break the line.
const hostile = [
  '<img src=x onerror=alert(1)>.JPG',
  '"><script>document.title="broken"<\/script>.JPG',
  'gull\u202egpj.exe.JPG',
  'a-very-long-name-'.repeat(11) + '.JPG',
];

function judge(frames) {
  // Best of each pose stays, softer ones go, the close ones are left open.
  const poses = new Map();
  for (const f of frames) poses.set(f.pose, [...(poses.get(f.pose) ?? []), f]);
  const out = [];
  for (const [pose, list] of [...poses].sort((a, b) => a[0] - b[0])) {
    list.sort((a, b) => a.blur - b.blur);
    const best = list[0];
    list.forEach((f, i) => {
      f.place = i + 1;
      if (f.damaged) return decide(f, 'undecided', null, 'damaged', 'damaged: the picture data ends early');
      if (i === 0 && f.blur > 2.2)
        return decide(f, 'undecided', null, 'soft', `subject soft: blur ${f.blur.toFixed(2)} px, limit 2.2 px`);
      if (i === 0)
        return decide(f, 'keep', f.blur < 0.9 ? 5 : f.blur < 1.2 ? 4 : 3, 'best_of_pose',
          `best of ${list.length} in its pose: blur ${f.blur.toFixed(2)} px`);
      if (f.motion > 6)
        return decide(f, 'reject', -1, 'motion', `subject moved ${f.motion.toFixed(1)} px along 24 degrees, limit 6.0 px`);
      if (f.blur / best.blur >= 1.3)
        return decide(f, 'reject', -1, 'softer',
          `softer than ${best.name}, same pose: blur ${f.blur.toFixed(2)} px against ${best.blur.toFixed(2)} px`);
      return decide(f, 'undecided', null, 'close',
        `same pose as ${best.name} and close to it: blur ${f.blur.toFixed(2)} against ${best.blur.toFixed(2)} px`);
    });
    out.push({ pose, frames: list.map((f) => f.id) });
  }
  return out;
}

function decide(f, verdict, rating, code, text) {
  Object.assign(f, { verdict, rating, reason: text, codes: [code] });
}

/** @param {number} count frames @param {number} seed */
export function invent(count, seed = 1) {
  const roll = dice(seed);
  const round = (x, n = 1000) => Math.round(x * n) / n;
  const frames = [], bursts = [];
  let time = Date.UTC(2026, 3, 12, 13, 20, 0);
  while (frames.length < count) {
    const size = Math.min(count - frames.length, 4 + Math.floor(roll() * 22));
    const poses = 1 + Math.floor((roll() * size) / 4);
    const here = [];
    for (let i = 0; i < size; ++i) {
      const id = frames.length + 1;
      const x = 0.3 + 0.3 * roll(), y = 0.25 + 0.3 * roll();
      const blur = 0.6 + 2.6 * roll() ** 2;
      const f = {
        id, name: hostile[id - 3] ?? `BSG_${String(id % 10000).padStart(4, '0')}.JPG`, burst: bursts.length + 1,
        pose: 1 + Math.floor((i * poses) / size), place: 0, time_ms: time + i * 50, width: 1350, height: 900,
        verdict: 'undecided', rating: null, blur: round(blur), blur_confidence: round(0.5 + 0.45 * roll()),
        motion: roll() < 0.12 ? round(3 + 12 * roll()) : 0, whites: roll() < 0.15 ? round(0.3 * roll()) : 0, cut: 0,
        head: [round(x + 0.18), round(y), 0.09, 0.13], head_view: 'unknown',
        subject: [round(x - 0.1), round(y - 0.1), 0.42, 0.5], reason: '', codes: [], damaged: roll() < 0.005, mine: null,
        sidecar: null,
      };
      here.push(f);
      frames.push(f);
    }
    const burst = { id: bursts.length + 1, camera: 'Saltmarsh Optics SO-1', start: new Date(time).toISOString(), frames: here.map((f) => f.id), poses: [] };
    burst.poses = judge(here);
    bursts.push(burst);
    time += size * 50 + 4000 + Math.floor(60000 * roll());
  }
  return { folder: `/pictures/saltmarsh-${count}`, bursts, frames };
}
