// The common level and noise of a frame, from runs of 16 neighbouring pixels. In 32 bit floats, each operation rounded as
// written and each sum kept in four parts as the lanes do, so that the twin in TypeScript (Math.fround) gives the same bits.

/** Bins that find a median: eight a grey level about a centre, and before that as many as hold every level. */
const BINS = 1024, BINS_PER_DN: f32 = 8;

// @ts-ignore: decorator
@inline
function sampleFour(sample: usize, mean: usize, levels: v128): void {
  v128.store(sample, f32x4.sub(f32x4.convert_i32x4_u(levels), v128.load(mean)));
}

/** Differences of the probes from their dark level. */
// @ts-ignore: decorator
@inline
function sampleInto<P>(sample: usize, frame: usize, runs: usize, count: i32, mean: usize): void {
  for (let r = 0; r < count; r++) {
    const at = frame + (<usize>load<i32>(runs + (<usize>r << 2)) << alignof<P>());
    const to = sample + (<usize>r << 6), from = mean + (<usize>r << 6);
    let low: v128, high: v128;
    if (sizeof<P>() == 1) {
      const bytes = v128.load(at);
      low = i16x8.extend_low_i8x16_u(bytes);
      high = i16x8.extend_high_i8x16_u(bytes);
    } else {
      low = v128.load(at);
      high = v128.load(at, 16);
    }
    sampleFour(to, from, i32x4.extend_low_i16x8_u(low));
    sampleFour(to + 16, from + 16, i32x4.extend_high_i16x8_u(low));
    sampleFour(to + 32, from + 32, i32x4.extend_low_i16x8_u(high));
    sampleFour(to + 48, from + 48, i32x4.extend_high_i16x8_u(high));
  }
}

/** The bin in which the median of the first four probes of each run lies. */
function medianBin(sample: usize, count: i32, centre: f32, perDn: f32, bins: usize): i32 {
  memory.fill(bins, 0, BINS << 2);
  for (let r = 0; r < count; r++)
    for (let k: usize = 0; k < 16; k += 4) {
      const place: f32 = (load<f32>(sample + (<usize>r << 6) + k) - centre) * perDn;
      const bin = <i32>min<f32>(max<f32>(floor<f32>(place + 0.5), <f32>(-BINS / 2)), <f32>(BINS / 2 - 1)) + BINS / 2;
      const at = bins + (<usize>bin << 2);
      store<i32>(at, load<i32>(at) + 1);
    }
  let below = 0, bin = 0;
  for (; bin < BINS - 1; bin++) {
    const inBin = load<i32>(bins + (<usize>bin << 2));
    if (below + inBin > count << 1) break;
    below += inBin;
  }
  return bin - BINS / 2;
}

// @ts-ignore: decorator
@inline
function sumOfLanes(v: v128): f32 {
  return (f32x4.extract_lane(v, 0) + f32x4.extract_lane(v, 2)) + (f32x4.extract_lane(v, 1) + f32x4.extract_lane(v, 3));
}

/** The mean of the probes within `limit` noises of `level`, and their scatter in noises, into `out`; of every `step`th four. */
function clippedInto(out: usize, sample: usize, perNoise: usize, count: i32, level: f32, limit: f32, step: usize): void {
  const from = f32x4.splat(level), most = f32x4.splat(limit), one = f32x4.splat(1);
  let n = f32x4.splat(0), sum = n, squares = n;
  const end = <usize>count << 6;
  for (let i: usize = 0; i < end; i += step) {
    const off = f32x4.sub(v128.load(sample + i), from);
    const d = f32x4.mul(off, v128.load(perNoise + i));
    const within = f32x4.le(f32x4.abs(d), most);
    n = f32x4.add(n, v128.and(one, within));
    sum = f32x4.add(sum, v128.and(off, within));
    squares = f32x4.add(squares, v128.and(f32x4.mul(d, d), within));
  }
  const total = sumOfLanes(n);
  store<f32>(out, total > 0 ? level + sumOfLanes(sum) / total : level);
  store<f32>(out, total > 0 ? sqrt<f32>(sumOfLanes(squares) / total) : 1, 4);
}

// @ts-ignore: decorator
@inline
function probe<P>(
  frame: usize, runs: usize, count: i32, mean: usize, perNoise: usize, clip: f32, sample: usize, bins: usize, out: usize,
): void {
  sampleInto<P>(sample, frame, runs, count, mean);
  // Where the median is not near nothing it is looked for among all levels there are, and from there again.
  let centre: f32 = 0;
  let bin = medianBin(sample, count, centre, BINS_PER_DN, bins);
  if (bin == -BINS / 2 || bin == BINS / 2 - 1) {
    const perDn: f32 = sizeof<P>() == 1 ? 2 : 1.0 / 128;
    centre = <f32>medianBin(sample, count, 0, perDn, bins) / perDn;
    bin = medianBin(sample, count, centre, BINS_PER_DN, bins);
  }
  // From the median two rounds of clipping bring even a frame with a bright tenth to its dark level.
  clippedInto(out, sample, perNoise, count, centre + <f32>bin / BINS_PER_DN, clip, 64);
  const level = load<f32>(out), scale = load<f32>(out, 4);
  clippedInto(out, sample, perNoise, count, level, clip * max<f32>(1, scale), 16);
}

/**
 * @param runs     i32, the first pixel of each run
 * @param count    how many runs
 * @param mean     f32, dark level of each pixel of the runs
 * @param perNoise f32, one over the noise of each
 * @param clip     how many noises from the level a probe still is dark
 * @param sample   f32, room for one of each pixel of the runs
 * @param bins     room for 1024 i32
 * @param out      f32, the common shift of the frame against the level, and its noise over the model's
 */
export function probeBytes(
  frame: usize, runs: usize, count: i32, mean: usize, perNoise: usize, clip: f32, sample: usize, bins: usize, out: usize,
): void {
  probe<u8>(frame, runs, count, mean, perNoise, clip, sample, bins, out);
}

/** As `probeBytes`, for a 16 bit frame. */
export function probeWords(
  frame: usize, runs: usize, count: i32, mean: usize, perNoise: usize, clip: f32, sample: usize, bins: usize, out: usize,
): void {
  probe<u16>(frame, runs, count, mean, perNoise, clip, sample, bins, out);
}
