const { fround } = Math;

/** Neighbouring pixels asked together: they share a line of the processor's cache. */
export const PROBE_RUN = 16;
/** Pixels that tell the common level and noise of a frame: the level to 1/45 of the noise of one pixel. */
const PROBES = 2048;
/** A probe farther than this many noises from the level is light. */
export const PROBE_CLIP = 3.5;
export const PROBE_BINS = 1024;
const BINS_PER_DN = 8;
/** The first four of each run give the first guess of a frame's level, which need only be right to a noise or two. */
const GUESSING = 4;

/** First pixel of each run of probes, spread over the image and over its columns. */
export function probeRuns(pixels: number): Int32Array {
  const runs = Math.max(1, Math.min(PROBES, pixels) >> 4);
  const stride = Math.floor(pixels / runs);
  const room = Math.max(1, stride - PROBE_RUN + 1);
  // 0.618 spreads the runs evenly over their stretches, whatever the width of the image.
  return Int32Array.from({ length: runs }, (_, run) => run * stride + Math.floor(((run * 0.618034) % 1) * room));
}

/** Dark level of each pixel of the runs, DN, and one over its noise. */
export interface ProbedDarkness {
  readonly runs: Int32Array;
  readonly meanDn: Float32Array;
  readonly perNoise: Float32Array;
}

export const probedDarkness = (runs: Int32Array): ProbedDarkness => ({
  runs,
  meanDn: new Float32Array(runs.length * PROBE_RUN),
  perNoise: new Float32Array(runs.length * PROBE_RUN),
});

/** Takes over a dark model; to be told again whenever that moved. */
export function followInto(probes: ProbedDarkness, meanDn: Float32Array, noiseDn: Float32Array): void {
  for (let k = 0; k < probes.meanDn.length; k++) {
    const pixel = probes.runs[k >> 4] + (k & 15);
    probes.meanDn[k] = meanDn[pixel];
    probes.perNoise[k] = 1 / noiseDn[pixel];
  }
}

/** Common shift of a frame against the dark level, DN, and its noise over the model's. */
export interface FrameLevel {
  readonly levelDn: number;
  readonly noiseScale: number;
}

/** The twin of `probe` in kernels/probe.ts, where the method is told. */
export function probeFrame(data: Uint8Array | Uint16Array, probes: ProbedDarkness): FrameLevel {
  const { runs, meanDn, perNoise } = probes;
  const sample = Float32Array.from(meanDn, (mean, k) => data[runs[k >> 4] + (k & 15)] - mean);
  let centre = 0;
  let bin = medianBin(sample, centre, BINS_PER_DN);
  if (bin === -PROBE_BINS / 2 || bin === PROBE_BINS / 2 - 1) {
    const perDn = data.BYTES_PER_ELEMENT === 1 ? 2 : 1 / 128;
    centre = medianBin(sample, 0, perDn) / perDn;
    bin = medianBin(sample, centre, BINS_PER_DN);
  }
  const guess = clippedMean(sample, perNoise, fround(centre + bin / BINS_PER_DN), PROBE_CLIP, GUESSING);
  return clippedMean(sample, perNoise, guess.levelDn, PROBE_CLIP * Math.max(1, guess.noiseScale), PROBE_RUN);
}

function medianBin(sample: Float32Array, centre: number, perDn: number): number {
  const bins = new Int32Array(PROBE_BINS);
  let asked = 0;
  for (let k = 0; k < sample.length; k++) {
    if (k % PROBE_RUN >= GUESSING) continue;
    const place = Math.floor(fround(fround(fround(sample[k] - centre) * perDn) + 0.5));
    bins[Math.max(-PROBE_BINS / 2, Math.min(PROBE_BINS / 2 - 1, place)) + PROBE_BINS / 2]++;
    asked++;
  }
  let [below, bin] = [0, 0];
  while (bin < PROBE_BINS - 1 && below + bins[bin] <= asked >> 1) below += bins[bin++];
  return bin - PROBE_BINS / 2;
}

/** Of the first `ofRun` probes of each run. Four sums side by side, in single precision, as the lanes of the kernel keep them. */
function clippedMean(
  sample: Float32Array,
  perNoise: Float32Array,
  levelDn: number,
  clip: number,
  ofRun: number,
): FrameLevel {
  const [from, limit] = [fround(levelDn), fround(clip)];
  const [count, sum, squares] = [new Float32Array(4), new Float32Array(4), new Float32Array(4)];
  for (let k = 0; k < sample.length; k++) {
    if (k % PROBE_RUN >= ofRun) continue;
    const off = fround(sample[k] - from);
    const d = fround(off * perNoise[k]);
    if (Math.abs(d) > limit) continue;
    count[k & 3]++;
    sum[k & 3] += off;
    squares[k & 3] += fround(d * d);
  }
  const total = ofLanes(count);
  return {
    levelDn: total > 0 ? fround(from + fround(ofLanes(sum) / total)) : from,
    noiseScale: total > 0 ? fround(Math.sqrt(fround(ofLanes(squares) / total))) : 1,
  };
}

const ofLanes = ([a, b, c, d]: Float32Array): number => fround(fround(a + c) + fround(b + d));

/** Noise of a frame about its own median against the model, DN, from the median of the deviations: needs no noise known before. */
export function scatterDn(data: Uint8Array | Uint16Array, { runs, meanDn }: ProbedDarkness): number {
  const off = Float64Array.from(meanDn, (mean, k) => data[runs[k >> 4] + (k & 15)] - mean).sort();
  const middle = off[off.length >> 1];
  return 1.4826 * off.map((dn) => Math.abs(dn - middle)).sort()[off.length >> 1];
}
