// At the end of a block: level and noise of every pixel move towards what the sums of `fold` say, and the sums are cleared.
// In 32 bit floats, each operation rounded as written, so that the twin in TypeScript (Math.fround) gives the same bits.

/** Where the numbers of the call stand, each over four lanes: see `learnBytes`. */
const LEVEL_SHARE: usize = 0, VARIANCE_SHARE: usize = 16, LEAST_NOISE: usize = 32;

// @ts-ignore: decorator
@inline
function learnFour(
  n: v128, sum: v128, squares: v128, reference: v128, leastSamples: v128, mean: usize, noise: usize,
  restMean: v128, restVariance: v128, shares: usize,
): void {
  const enough = i32x4.gt_s(n, leastSamples);
  const samples = f32x4.convert_i32x4_s(n), s = f32x4.convert_i32x4_s(sum);
  const off = f32x4.div(s, samples);
  const unbiased = f32x4.div(
    f32x4.sub(f32x4.convert_i32x4_s(squares), f32x4.mul(s, off)), f32x4.sub(samples, f32x4.splat(1)),
  );
  const variance = f32x4.max(f32x4.splat(0), f32x4.sub(unbiased, restVariance));
  const m = v128.load(mean), sigma = v128.load(noise);
  const seen = f32x4.sub(f32x4.add(f32x4.convert_i32x4_s(reference), off), restMean);
  const level = f32x4.add(m, f32x4.mul(v128.load(shares, LEVEL_SHARE), f32x4.sub(seen, m)));
  const old = f32x4.mul(sigma, sigma);
  const next = f32x4.add(old, f32x4.mul(v128.load(shares, VARIANCE_SHARE), f32x4.sub(variance, old)));
  const spread = f32x4.max(v128.load(shares, LEAST_NOISE), f32x4.sqrt(next));
  v128.store(mean, v128.bitselect(level, m, enough));
  v128.store(noise, v128.bitselect(spread, sigma, enough));
}

// @ts-ignore: decorator
@inline
function learnOne(
  n: i32, sum: i32, squares: i32, reference: i32, leastSamples: i32, mean: usize, noise: usize,
  restMean: f32, restVariance: f32, shares: usize,
): void {
  if (n <= leastSamples) return;
  const samples = <f32>n, s = <f32>sum;
  const off: f32 = s / samples;
  const product: f32 = s * off;
  const unbiased: f32 = (<f32>squares - product) / (samples - 1);
  const variance = max<f32>(0, unbiased - restVariance);
  const m = load<f32>(mean), sigma = load<f32>(noise);
  const above: f32 = <f32>reference + off;
  const seen: f32 = above - restMean;
  const step: f32 = load<f32>(shares, LEVEL_SHARE) * (seen - m);
  store<f32>(mean, m + step);
  const old: f32 = sigma * sigma;
  const widening: f32 = load<f32>(shares, VARIANCE_SHARE) * (variance - old);
  store<f32>(noise, max<f32>(load<f32>(shares, LEAST_NOISE), sqrt<f32>(old + widening)));
}

/**
 * @param rests   for each row modulo 32: mean, then for each the variance, of what rounding took off the level of its frames, f32
 * @param shares  three vectors of f32: how far level and variance move, and the least noise
 * @param leastSamples a pixel with fewer dark samples learns nothing; 2 or more
 */
export function learnBytes(
  mean: usize, noise: usize, reference: usize, count: usize, sum: usize, squares: usize, width: i32, height: i32,
  leastSamples: i32, rests: usize, shares: usize,
): void {
  const least = i32x4.splat(leastSamples - 1), zero = i32x4.splat(0);
  for (let y = 0; y < height; y++) {
    const rest = rests + (<usize>(y & 31) << 2);
    const restMean = v128.load32_splat(rest), restVariance = v128.load32_splat(rest, 128);
    let i = <usize>(y * width);
    const end = i + <usize>width;
    for (; i + 8 <= end; i += 8) {
      const n = v128.load8x8_u(count + i), r = v128.load8x8_u(reference + i);
      const s = v128.load(sum + (i << 1)), q = v128.load(squares + (i << 1));
      learnFour(
        i32x4.extend_low_i16x8_u(n), i32x4.extend_low_i16x8_s(s), i32x4.extend_low_i16x8_u(q),
        i32x4.extend_low_i16x8_u(r), least, mean + (i << 2), noise + (i << 2), restMean, restVariance, shares,
      );
      learnFour(
        i32x4.extend_high_i16x8_u(n), i32x4.extend_high_i16x8_s(s), i32x4.extend_high_i16x8_u(q),
        i32x4.extend_high_i16x8_u(r), least, mean + (i << 2) + 16, noise + (i << 2) + 16, restMean, restVariance, shares,
      );
      v128.store64_lane(count + i, zero, 0);
      v128.store(sum + (i << 1), zero);
      v128.store(squares + (i << 1), zero);
    }
    for (; i < end; i++) {
      learnOne(
        <i32>load<u8>(count + i), <i32>load<i16>(sum + (i << 1)), <i32>load<u16>(squares + (i << 1)),
        <i32>load<u8>(reference + i), leastSamples - 1, mean + (i << 2), noise + (i << 2),
        load<f32>(rest), load<f32>(rest, 128), shares,
      );
      store<u8>(count + i, 0);
      store<i16>(sum + (i << 1), 0);
      store<u16>(squares + (i << 1), 0);
    }
  }
}

/** As `learnBytes`, for the sums of `foldWords`. */
export function learnWords(
  mean: usize, noise: usize, reference: usize, count: usize, sum: usize, squares: usize, width: i32, height: i32,
  leastSamples: i32, rests: usize, shares: usize,
): void {
  const least = i32x4.splat(leastSamples - 1), zero = i32x4.splat(0);
  for (let y = 0; y < height; y++) {
    const rest = rests + (<usize>(y & 31) << 2);
    const restMean = v128.load32_splat(rest), restVariance = v128.load32_splat(rest, 128);
    let i = <usize>(y * width);
    const end = i + <usize>width;
    for (; i + 4 <= end; i += 4) {
      learnFour(
        v128.load16x4_u(count + (i << 1)), v128.load(sum + (i << 2)), v128.load(squares + (i << 2)),
        v128.load16x4_u(reference + (i << 1)), least, mean + (i << 2), noise + (i << 2), restMean, restVariance, shares,
      );
      v128.store64_lane(count + (i << 1), zero, 0);
      v128.store(sum + (i << 2), zero);
      v128.store(squares + (i << 2), zero);
    }
    for (; i < end; i++) {
      learnOne(
        <i32>load<u16>(count + (i << 1)), load<i32>(sum + (i << 2)), load<i32>(squares + (i << 2)),
        <i32>load<u16>(reference + (i << 1)), leastSamples - 1, mean + (i << 2), noise + (i << 2),
        load<f32>(rest), load<f32>(rest, 128), shares,
      );
      store<u16>(count + (i << 1), 0);
      store<i32>(sum + (i << 2), 0);
      store<i32>(squares + (i << 2), 0);
    }
  }
}
