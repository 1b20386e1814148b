// From the dark level and noise of every pixel to what scan and fold compare with. In 32 bit floats throughout, each
// operation rounded as written, so that the twin in TypeScript (Math.fround) gives the same bits.

// @ts-ignore: decorator
@inline
function ofFive(a: v128, b: v128, c: v128, d: v128, e: v128, inner: v128): v128 {
  return f32x4.add(f32x4.add(a, e), f32x4.mul(inner, f32x4.add(f32x4.add(b, c), d)));
}

// @ts-ignore: decorator
@inline
function squareAt(at: usize): v128 {
  const x = v128.load(at);
  return f32x4.mul(x, x);
}

/** Sums down five rows [1 m m m 1], of the level (m = 2) and of the variance (m = 4), into two rows of scratch. */
function columnsInto(columns: usize, variances: usize, mean: usize, noise: usize, width: i32): void {
  const row = <usize>width << 2;
  const two = f32x4.splat(2), four = f32x4.splat(4);
  for (let x: usize = 0; x < row; x += 16) {
    const a = mean + x;
    const level = ofFive(
      v128.load(a - 2 * row), v128.load(a - row), v128.load(a), v128.load(a + row), v128.load(a + 2 * row), two,
    );
    v128.store(columns + x, level);
    const b = noise + x;
    const variance = ofFive(
      squareAt(b - 2 * row), squareAt(b - row), squareAt(b), squareAt(b + row), squareAt(b + 2 * row), four,
    );
    v128.store(variances + x, variance);
  }
}

/** Sums over four rows of the level and of the variance, into two rows of scratch. */
function boxColumnsInto(columns: usize, variances: usize, mean: usize, noise: usize, width: i32): void {
  const row = <usize>width << 2;
  for (let x: usize = 0; x < row; x += 16) {
    const a = mean + x;
    v128.store(
      columns + x,
      ofFour(v128.load(a), v128.load(a + row), v128.load(a + 2 * row), v128.load(a + 3 * row)),
    );
    const b = noise + x;
    v128.store(
      variances + x,
      ofFour(squareAt(b), squareAt(b + row), squareAt(b + 2 * row), squareAt(b + 3 * row)),
    );
  }
}

// @ts-ignore: decorator
@inline
function ofFour(a: v128, b: v128, c: v128, d: v128): v128 {
  return f32x4.add(f32x4.add(a, d), f32x4.add(b, c));
}

// @ts-ignore: decorator
@inline
function wholeLimits(level: v128, variance: v128, sigmas: v128, never: v128): v128 {
  const limit = f32x4.ceil(f32x4.add(level, f32x4.mul(sigmas, f32x4.sqrt(variance))));
  const whole = i32x4.min_s(i32x4.max_s(i32x4.trunc_sat_f32x4_s(limit), i32x4.splat(0)), never);
  return i32x4.sub(whole, i32x4.splat(1));
}

/** Four first thresholds, as i32, for boxes that start at columns x to x + 3. */
// @ts-ignore: decorator
@inline
function fourBoxLimits(columns: usize, variances: usize, x: usize, sigmas: v128, never: v128): v128 {
  const c = columns + (x << 2), v = variances + (x << 2);
  return wholeLimits(
    ofFour(v128.load(c), v128.load(c, 4), v128.load(c, 8), v128.load(c, 12)),
    ofFour(v128.load(v), v128.load(v, 4), v128.load(v, 8), v128.load(v, 12)),
    sigmas, never,
  );
}

/** Four thresholds less one, as i32, for centres x + 2 to x + 5. */
// @ts-ignore: decorator
@inline
function fourLimits(columns: usize, variances: usize, x: usize, sigmas: v128, never: v128): v128 {
  const c = columns + (x << 2), v = variances + (x << 2);
  const level = ofFive(
    v128.load(c), v128.load(c, 4), v128.load(c, 8), v128.load(c, 12), v128.load(c, 16), f32x4.splat(2),
  );
  const variance = ofFive(
    v128.load(v), v128.load(v, 4), v128.load(v, 8), v128.load(v, 12), v128.load(v, 16), f32x4.splat(4),
  );
  return wholeLimits(level, variance, sigmas, never);
}

/** Eight references (nearest whole level) as u16. */
// @ts-ignore: decorator
@inline
function references(mean: usize): v128 {
  const half = f32x4.splat(0.5);
  return i16x8.narrow_i32x4_u(
    i32x4.trunc_sat_f32x4_s(f32x4.floor(f32x4.add(v128.load(mean), half))),
    i32x4.trunc_sat_f32x4_s(f32x4.floor(f32x4.add(v128.load(mean, 16), half))),
  );
}

/** Eight clips as u16: so many sigmas, and one level for the rounding of reference and frame level. */
// @ts-ignore: decorator
@inline
function clips(noise: usize, sigmas: v128, most: v128): v128 {
  const one = f32x4.splat(1);
  const low = f32x4.ceil(f32x4.add(f32x4.mul(sigmas, v128.load(noise)), one));
  const high = f32x4.ceil(f32x4.add(f32x4.mul(sigmas, v128.load(noise, 16)), one));
  return i16x8.narrow_i32x4_u(
    i32x4.min_s(i32x4.trunc_sat_f32x4_s(low), most), i32x4.min_s(i32x4.trunc_sat_f32x4_s(high), most),
  );
}

/** The least of the i16 from `at` to `end`. */
function least16(at: usize, end: usize): i16 {
  let least = v128.load(at);
  for (at += 16; at < end; at += 16) least = i16x8.min_s(least, v128.load(at));
  least = i16x8.min_s(least, i16x8.shuffle(least, least, 4, 5, 6, 7, 0, 1, 2, 3));
  least = i16x8.min_s(least, i16x8.shuffle(least, least, 2, 3, 0, 1, 6, 7, 4, 5));
  least = i16x8.min_s(least, i16x8.shuffle(least, least, 1, 0, 3, 2, 5, 4, 7, 6));
  return i16x8.extract_lane_s(least, 0);
}

/** The least of the i32 from `at` to `end`. */
function least32(at: usize, end: usize): i32 {
  let least = v128.load(at);
  for (at += 16; at < end; at += 16) least = i32x4.min_s(least, v128.load(at));
  least = i32x4.min_s(least, i32x4.shuffle(least, least, 2, 3, 0, 1));
  least = i32x4.min_s(least, i32x4.shuffle(least, least, 1, 0, 3, 2));
  return i32x4.extract_lane(least, 0);
}

/**
 * Makes both maps of thresholds (layout of `scanBytes`), references and clips (layout of `foldBytes`) from mean and noise (f32).
 * The arrays are followed by 8 entries to spare.
 * @param scratch two rows of f32, each width + 32 long
 */
export function settleBytes(
  mean: usize, noise: usize, first: usize, leasts: usize, thresholds: usize, reference: usize, clip: usize, width: i32, height: i32,
  firstSigmas: f32, sigmas: f32, clipSigmas: f32, mostClip: i32, never: i32, scratch: usize,
): void {
  const bySigmas = f32x4.splat(clipSigmas), cap = i32x4.splat(mostClip);
  for (let i: usize = 0; i < <usize>(width * height); i += 8) {
    const r = references(mean + (i << 2)), c = clips(noise + (i << 2), bySigmas, cap);
    v128.store64_lane(reference + i, i8x16.narrow_i16x8_u(r, r), 0);
    v128.store64_lane(clip + i, i8x16.narrow_i16x8_u(c, c), 0);
  }
  const variances = scratch + (<usize>(width + 32) << 2);
  const k = f32x4.splat(sigmas), most = i32x4.splat(never);
  const k1 = f32x4.splat(firstSigmas);
  const whole = (width - 4) >> 4, blocks = (height - 4) >> 3;
  for (let j = 0; j < blocks << 2; j++) {
    const row = <usize>(((j << 1) + 1) * width) << 2;
    boxColumnsInto(scratch, variances, mean + row, noise + row, width);
    for (let g = 0; g < whole; g++) {
      const x = (<usize>g << 4) + 1;
      const a = fourBoxLimits(scratch, variances, x, k1, most), b = fourBoxLimits(scratch, variances, x + 4, k1, most);
      const c = fourBoxLimits(scratch, variances, x + 8, k1, most), d = fourBoxLimits(scratch, variances, x + 12, k1, most);
      v128.store(
        first + (<usize>((((j >> 2) * whole + g) << 2) + (j & 3)) << 4),
        i16x8.shuffle(i16x8.narrow_i32x4_s(a, b), i16x8.narrow_i32x4_s(c, d), 0, 2, 4, 6, 8, 10, 12, 14),
      );
    }
  }
  const strips = (width - 4 + 15) >> 4;
  for (let y = 2; y < height - 2; y++) {
    const row = <usize>(y * width) << 2;
    columnsInto(scratch, variances, mean + row, noise + row, width);
    for (let g = 0; g < strips; g++) {
      const x = <usize>g << 4;
      const a = fourLimits(scratch, variances, x, k, most), b = fourLimits(scratch, variances, x + 4, k, most);
      const c = fourLimits(scratch, variances, x + 8, k, most), d = fourLimits(scratch, variances, x + 12, k, most);
      const left = i16x8.narrow_i32x4_s(a, b), right = i16x8.narrow_i32x4_s(c, d);
      const to = thresholds + ((<usize>(g * (height + 2) + y)) << 5);
      v128.store(to, i16x8.shuffle(left, right, 0, 2, 4, 6, 8, 10, 12, 14));
      v128.store(to, i16x8.shuffle(left, right, 1, 3, 5, 7, 9, 11, 13, 15), 16);
    }
    for (let x = width - 4; x < strips << 4; x++) {
      const lane = (((x & 1) << 3) | ((x & 15) >> 1)) << 1;
      store<i16>(thresholds + ((<usize>((x >> 4) * (height + 2) + y)) << 5) + <usize>lane, <i16>(never - 1));
    }
  }
  for (let b = 0; b < blocks; b++) {
    for (let g = 0; g < whole; g++) {
      const k = <usize>(b * whole + g);
      const boxes = first + (k << 6), block = thresholds + ((<usize>(g * (height + 2) + (b << 3) + 2)) << 5);
      store<i16>(leasts + (k << 2), least16(boxes, boxes + 64));
      store<i16>(leasts + (k << 2), least16(block, block + 256), 2);
    }
  }
}

/** As `settleBytes`, in the layouts of `scanWords` and `foldWords`. */
export function settleWords(
  mean: usize, noise: usize, first: usize, leasts: usize, thresholds: usize, reference: usize, clip: usize, width: i32, height: i32,
  firstSigmas: f32, sigmas: f32, clipSigmas: f32, mostClip: i32, never: i32, scratch: usize,
): void {
  const bySigmas = f32x4.splat(clipSigmas), cap = i32x4.splat(mostClip);
  for (let i: usize = 0; i < <usize>(width * height); i += 8) {
    v128.store(reference + (i << 1), references(mean + (i << 2)));
    v128.store(clip + (i << 1), clips(noise + (i << 2), bySigmas, cap));
  }
  const variances = scratch + (<usize>(width + 32) << 2);
  const k = f32x4.splat(sigmas), most = i32x4.splat(never);
  const k1 = f32x4.splat(firstSigmas);
  const whole = (width - 4) >> 3, blocks = (height - 4) >> 3;
  for (let j = 0; j < blocks << 2; j++) {
    const row = <usize>(((j << 1) + 1) * width) << 2;
    boxColumnsInto(scratch, variances, mean + row, noise + row, width);
    for (let g = 0; g < whole; g++) {
      const x = (<usize>g << 3) + 1;
      const a = fourBoxLimits(scratch, variances, x, k1, most), b = fourBoxLimits(scratch, variances, x + 4, k1, most);
      v128.store(first + (<usize>((((j >> 2) * whole + g) << 2) + (j & 3)) << 4), i32x4.shuffle(a, b, 0, 2, 4, 6));
    }
  }
  const strips = (width - 4 + 7) >> 3;
  for (let y = 2; y < height - 2; y++) {
    const row = <usize>(y * width) << 2;
    columnsInto(scratch, variances, mean + row, noise + row, width);
    for (let g = 0; g < strips; g++) {
      const x = <usize>g << 3;
      const a = fourLimits(scratch, variances, x, k, most), b = fourLimits(scratch, variances, x + 4, k, most);
      const to = thresholds + ((<usize>(g * (height + 2) + y)) << 5);
      v128.store(to, i32x4.shuffle(a, b, 0, 2, 4, 6));
      v128.store(to, i32x4.shuffle(a, b, 1, 3, 5, 7), 16);
    }
    for (let x = width - 4; x < strips << 3; x++) {
      const lane = (((x & 1) << 2) | ((x & 7) >> 1)) << 2;
      store<i32>(thresholds + ((<usize>((x >> 3) * (height + 2) + y)) << 5) + <usize>lane, never - 1);
    }
  }
  for (let b = 0; b < blocks; b++) {
    for (let g = 0; g < whole; g++) {
      const k = <usize>(b * whole + g);
      const boxes = first + (k << 6), block = thresholds + ((<usize>(g * (height + 2) + (b << 3) + 2)) << 5);
      store<i32>(leasts + (k << 3), least32(boxes, boxes + 64));
      store<i32>(leasts + (k << 3), least32(block, block + 256), 4);
    }
  }
}
