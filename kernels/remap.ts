// Bilinear remapping by a fixed map of two arrays, one entry an output pixel: `offsets` (u32), bytes from the start of the
// source to the upper left of the four neighbours; `weights` (u16), that of the right ones in 1/128 px in the low byte, that of
// the lower ones in the high byte. An entry without four neighbours points to zeros behind the source.
//
// Grey pixels are taken in groups of 8. Neighbours of a group mostly lie in one row and within 16 bytes: then one load and
// one swizzle a row fetch them, and `bases` (u32, one a group) and `steps` (u8, one a pixel, bytes from the base) are read in the
// stead of the offsets, which are two thirds of what a map takes in memory. A group whose neighbours lie farther apart has the
// base FAR, and they are fetched one by one, as those of colour pixels are, for which swizzles gain nothing.
//
// Down first: p * 128 + (q - p) * down is exact in 16 bit. Then across with one rounding to 1/128 grey level, and one
// rounding to whole levels. The source is followed by 16 readable bytes, the output by 16 writable ones.

const FAR: u32 = 0xffffffff;

// @ts-ignore: decorator
@inline
function down7(top: v128, bottom: v128, weight: v128): v128 {
  return i16x8.add(i16x8.shl(top, 7), i16x8.mul(i16x8.sub(bottom, top), i16x8.shr_u(weight, 8)));
}

// @ts-ignore: decorator
@inline
function acrossRounded(left: v128, right: v128, weight: v128): v128 {
  const step = i16x8.q15mulr_sat_s(i16x8.sub(right, left), i16x8.shl(weight, 8));
  return i16x8.shr_u(i16x8.add(i16x8.add(left, step), i16x8.splat(64)), 7);
}

/** Byte pairs (left and right neighbour) of 8 output pixels. */
// @ts-ignore: decorator
@inline
function pairs(source: usize, offsets: usize): v128 {
  let p = v128.load16_splat(source + load<u32>(offsets));
  p = v128.load16_lane(source + load<u32>(offsets, 4), p, 1);
  p = v128.load16_lane(source + load<u32>(offsets, 8), p, 2);
  p = v128.load16_lane(source + load<u32>(offsets, 12), p, 3);
  p = v128.load16_lane(source + load<u32>(offsets, 16), p, 4);
  p = v128.load16_lane(source + load<u32>(offsets, 20), p, 5);
  p = v128.load16_lane(source + load<u32>(offsets, 24), p, 6);
  return v128.load16_lane(source + load<u32>(offsets, 28), p, 7);
}

/** Grey. `count` output pixels are rounded up to a multiple of 8: map and output are that long. `stride`: bytes a source row. */
export function remapGrey(
  out: usize, source: usize, stride: usize, bases: usize, steps: usize, offsets: usize, weights: usize, count: usize,
): void {
  const low = i16x8.splat(255);
  const sides = i8x16(0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1);
  for (let i: usize = 0; i < count; i += 8) {
    const base = load<u32>(bases + (i >> 1));
    let top: v128, bottom: v128;
    if (base != FAR) {
      const step = v128.load64_splat(steps + i);
      const both = i8x16.add(i8x16.shuffle(step, step, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 5, 5, 6, 6, 7, 7), sides);
      top = i8x16.swizzle(v128.load(source + base), both);
      bottom = i8x16.swizzle(v128.load(source + base + stride), both);
    } else {
      top = pairs(source, offsets + (i << 2));
      bottom = pairs(source + stride, offsets + (i << 2));
    }
    const weight = v128.load(weights + (i << 1));
    const left = down7(v128.and(top, low), v128.and(bottom, low), weight);
    const right = down7(i16x8.shr_u(top, 8), i16x8.shr_u(bottom, 8), weight);
    const level = acrossRounded(left, right, weight);
    v128.store64_lane(out + i, i8x16.narrow_i16x8_u(level, level), 0);
  }
}

/** One pixel of several channels: its left and right neighbour interpolated down. */
// @ts-ignore: decorator
@inline
function bothSides(source: usize, stride: usize, offsets: usize, weights: usize): v128 {
  const at = source + load<u32>(offsets);
  return down7(v128.load8x8_u(at), v128.load8x8_u(at + stride), v128.load16_splat(weights));
}

// @ts-ignore: decorator
@inline
function twoRgb(a: v128, b: v128, weights: usize): v128 {
  const two = v128.load32_splat(weights);
  return acrossRounded(
    i16x8.shuffle(a, b, 0, 1, 2, 8, 9, 10, 0, 0), i16x8.shuffle(a, b, 3, 4, 5, 11, 12, 13, 3, 3),
    i16x8.shuffle(two, two, 0, 0, 0, 1, 1, 1, 0, 0),
  );
}

/** Red, green, blue; `bases` and `steps` are not read. `count` is rounded up to a multiple of 4. */
export function remapRgb(
  out: usize, source: usize, stride: usize, bases: usize, steps: usize, offsets: usize, weights: usize, count: usize,
): void {
  for (let i: usize = 0; i < count; i += 4) {
    const o = offsets + (i << 2), w = weights + (i << 1);
    const first = twoRgb(bothSides(source, stride, o, w), bothSides(source, stride, o + 4, w + 2), w);
    const second = twoRgb(bothSides(source, stride, o + 8, w + 4), bothSides(source, stride, o + 12, w + 6), w + 4);
    const bytes = i8x16.narrow_i16x8_u(first, second);
    // The next four overwrite the last four bytes of this store.
    v128.store(out + 3 * i, i8x16.shuffle(bytes, bytes, 0, 1, 2, 3, 4, 5, 8, 9, 10, 11, 12, 13, 0, 0, 0, 0));
  }
}

// @ts-ignore: decorator
@inline
function twoRgba(a: v128, b: v128, weights: usize): v128 {
  const two = v128.load32_splat(weights);
  return acrossRounded(
    i64x2.shuffle(a, b, 0, 2), i64x2.shuffle(a, b, 1, 3), i16x8.shuffle(two, two, 0, 0, 0, 0, 1, 1, 1, 1),
  );
}

/** Red, green, blue, alpha; `bases` and `steps` are not read. `count` is rounded up to a multiple of 4. */
export function remapRgba(
  out: usize, source: usize, stride: usize, bases: usize, steps: usize, offsets: usize, weights: usize, count: usize,
): void {
  for (let i: usize = 0; i < count; i += 4) {
    const o = offsets + (i << 2), w = weights + (i << 1);
    const first = twoRgba(bothSides(source, stride, o, w), bothSides(source, stride, o + 4, w + 2), w);
    const second = twoRgba(bothSides(source, stride, o + 8, w + 4), bothSides(source, stride, o + 12, w + 6), w + 4);
    v128.store(out + (i << 2), i8x16.narrow_i16x8_u(first, second));
  }
}
