// Running sums of the dark level: one pass over the sampled rows of a frame.

// @ts-ignore: decorator
@inline
function foldEight(
  data: v128, reference: usize, clip: usize, count: usize, sum: usize, squares: usize, i: usize, up: v128, down: v128, inRow: v128,
): void {
  // What darkness should read in this frame, and how far from it the pixel is; unsigned, so that 16 bit data fits.
  const base = i16x8.sub_sat_u(i16x8.add_sat_u(v128.load(reference + (i << 1)), up), down);
  const limit = v128.load(clip + (i << 1));
  const off = i16x8.sub(i16x8.max_u(data, base), i16x8.min_u(data, base));
  const dark = v128.and(i16x8.eq(i16x8.max_u(off, limit), limit), inRow);
  const d = v128.and(i16x8.sub(data, base), dark);
  v128.store(count + (i << 1), i16x8.sub(v128.load(count + (i << 1)), dark));
  const s = sum + (i << 2);
  v128.store(s, i32x4.add(v128.load(s), i32x4.extend_low_i16x8_s(d)));
  v128.store(s, i32x4.add(v128.load(s, 16), i32x4.extend_high_i16x8_s(d)), 16);
  const q = squares + (i << 2);
  v128.store(q, i32x4.add(v128.load(q), i32x4.extmul_low_i16x8_s(d, d)));
  v128.store(q, i32x4.add(v128.load(q, 16), i32x4.extmul_high_i16x8_s(d, d)), 16);
}

// @ts-ignore: decorator
@inline
function firstLanes(lanes: usize): v128 {
  return i16x8.gt_s(i16x8.splat(<i16>lanes), i16x8(0, 1, 2, 3, 4, 5, 6, 7));
}

// @ts-ignore: decorator
@inline
function foldSixteen(
  frame: usize, reference: usize, clip: usize, count: usize, sum: usize, squares: usize, i: usize,
  up: v128, down: v128, inRow: v128,
): void {
  const data = v128.load(frame + i);
  const base = i8x16.sub_sat_u(i8x16.add_sat_u(v128.load(reference + i), up), down);
  const limit = v128.load(clip + i);
  const off = i8x16.sub(i8x16.max_u(data, base), i8x16.min_u(data, base));
  const dark = v128.and(i8x16.eq(i8x16.max_u(off, limit), limit), inRow);
  const d = v128.and(i8x16.sub(data, base), dark);
  v128.store(count + i, i8x16.sub(v128.load(count + i), dark));
  const s = sum + (i << 1);
  v128.store(s, i16x8.add(v128.load(s), i16x8.extend_low_i8x16_s(d)));
  v128.store(s, i16x8.add(v128.load(s, 16), i16x8.extend_high_i8x16_s(d)), 16);
  const q = squares + (i << 1);
  v128.store(q, i16x8.add(v128.load(q), i16x8.extmul_low_i8x16_s(d, d)));
  v128.store(q, i16x8.add(v128.load(q, 16), i16x8.extmul_high_i8x16_s(d, d)), 16);
}

/**
 * Adds every `step`th row from `first` on to the sums: for each pixel no farther than its clip (u8) from its reference
 * (u8) plus the frame's common level, one to `count` (u8), the difference to `sum` (i16), its square to `squares` (u16).
 * With clips up to 45 the sums hold 32 frames. A row is taken in groups of 16; the last one may read and write back up to
 * 15 entries beyond, unchanged.
 * @param level common shift of the frame, whole grey levels, |level| <= 255
 */
export function foldBytes(
  frame: usize, reference: usize, clip: usize, count: usize, sum: usize, squares: usize,
  width: i32, height: i32, level: i32, first: i32, step: i32,
): void {
  const up = i8x16.splat(<i8>max(level, 0));
  const down = i8x16.splat(<i8>max(-level, 0));
  const all = i8x16.splat(-1);
  for (let y = first; y < height; y += step) {
    const end = <usize>((y + 1) * width);
    let i = <usize>(y * width);
    for (; i + 16 <= end; i += 16) foldSixteen(frame, reference, clip, count, sum, squares, i, up, down, all);
    if (i < end) {
      const inRow = i8x16.gt_s(
        i8x16.splat(<i8>(end - i)), i8x16(0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15),
      );
      foldSixteen(frame, reference, clip, count, sum, squares, i, up, down, inRow);
    }
  }
}

/** As `foldBytes`, for a 16 bit frame: reference, clip and count u16, sum i32, squares u32; 32 frames with clips up to 8000. */
export function foldWords(
  frame: usize, reference: usize, clip: usize, count: usize, sum: usize, squares: usize,
  width: i32, height: i32, level: i32, first: i32, step: i32,
): void {
  const up = i16x8.splat(<i16>max(level, 0));
  const down = i16x8.splat(<i16>max(-level, 0));
  const all = i16x8.splat(-1);
  for (let y = first; y < height; y += step) {
    const end = <usize>((y + 1) * width);
    let i = <usize>(y * width);
    for (; i + 8 <= end; i += 8)
      foldEight(v128.load(frame + (i << 1)), reference, clip, count, sum, squares, i, up, down, all);
    if (i < end)
      foldEight(v128.load(frame + (i << 1)), reference, clip, count, sum, squares, i, up, down, firstLanes(end - i));
  }
}
