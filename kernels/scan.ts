// The matched filter [1 2 2 2 1] down times [1 2 2 2 1] across, compared with a threshold map, where a first look allows.
//
// First look: sums over boxes of 4 x 4 pixels, two pixels apart, against a lower threshold of their own. A block of the
// image, 8 rows of one strip, none of whose boxes reaches it is passed over. This costs a quarter of the filter.
//
// Filter: [1 2 2 2 1] is four neighbouring pair sums, (a b)(b c)(c d)(d e). Across, `extadd_pairwise` gives the pair sums
// that start at even columns (load at x) or at odd columns (load at x + 1), so even and odd columns are kept apart. Down,
// the sums of pairs of rows and of pairs of pairs stay in registers while a strip is walked; nothing is written.
//
// A strip has as many columns as a vector of the frame has pixels: 16 or 8; its first filter centre is at column
// strip * g + 2. Maps are laid out as they are read. Thresholds of strip g, row y: first the even then the odd centres;
// a strip has two rows more than the image, so that neighbouring strips don't compete for cache lines. First thresholds of
// block b, strip g: its boxes row by row; box i of row j starts at column strip * g + 1 + 2 i, row 8 b + 1 + 2 j, so that
// the middles of the boxes lie evenly in the block, whose first centre is in row 8 b + 2. Where a strip or a block is cut
// off by the border there is no first look. Both maps hold the largest value that is no hit. Centres beyond the image have
// a threshold that is never reached; the frame is followed by readable bytes.

// @ts-ignore: decorator
@inline
function emit(hits: usize, count: i32, capacity: i32, pixel: i32, excess: i32): void {
  if (count < capacity) {
    store<i32>(hits + ((<usize>count) << 3), pixel);
    store<i32>(hits + ((<usize>count) << 3), excess, 4);
  }
}

// Not inlined: the loop keeps its registers.
function emitLanes16(
  hits: usize, count: i32, capacity: i32, mask: v128, value: v128, threshold: v128, scratch: usize, pixel: i32,
): i32 {
  let bits = i16x8.bitmask(mask);
  if (bits == 0) return count;
  v128.store(scratch, i16x8.sub(value, threshold));
  while (bits != 0) {
    const lane = ctz(bits);
    bits &= bits - 1;
    emit(hits, count, capacity, pixel + (lane << 1), load<i16>(scratch + (<usize>lane << 1)));
    count++;
  }
  return count;
}

function emitLanes32(
  hits: usize, count: i32, capacity: i32, mask: v128, value: v128, threshold: v128, scratch: usize, pixel: i32,
): i32 {
  let bits = i32x4.bitmask(mask);
  if (bits == 0) return count;
  v128.store(scratch, i32x4.sub(value, threshold));
  while (bits != 0) {
    const lane = ctz(bits);
    bits &= bits - 1;
    emit(hits, count, capacity, pixel + (lane << 1), load<i32>(scratch + (<usize>lane << 2)));
    count++;
  }
  return count;
}

/**
 * The filter in the rows `top` to `bottom` (exclusive) of strip g. Returns the number of hits so far.
 * @param least no threshold in these rows is lower
 */
function matchBytes(
  frame: usize, width: i32, height: i32, thresholds: usize, least: i32, level: i32, g: i32, top: i32, bottom: i32,
  hits: usize, count: i32, capacity: i32, scratch: usize,
): i32 {
  const shift = i16x8.splat(<i16>level);
  const one = i16x8.splat(1);
  const lowest = i16x8.splat(<i16>least);
  let at = frame + <usize>((top - 2) * width + (g << 4));
  // Row sums of the four rows above the first complete one.
  let h0e = i16x8.splat(0), h0o = h0e; // last row
  let r0e = h0e, r0o = h0e; // last pair of rows
  let q0e = h0e, q0o = h0e; // last pair of pairs
  let q1e = h0e, q1o = h0e; // the one before
  for (let k = 0; k < 4; k++) {
    const s0 = i16x8.extadd_pairwise_i8x16_u(v128.load(at));
    const s1 = i16x8.extadd_pairwise_i8x16_u(v128.load(at, 1));
    const s2 = i16x8.extadd_pairwise_i8x16_u(v128.load(at, 2));
    const s3 = i16x8.extadd_pairwise_i8x16_u(v128.load(at, 3));
    const s4 = i16x8.extadd_pairwise_i8x16_u(v128.load(at, 4));
    const m = i16x8.add(i16x8.add(s1, s2), s3);
    const he = i16x8.add(m, s0), ho = i16x8.add(m, s4);
    const re = i16x8.add(he, h0e), ro = i16x8.add(ho, h0o);
    q1e = q0e;
    q1o = q0o;
    q0e = i16x8.add(re, r0e);
    q0o = i16x8.add(ro, r0o);
    r0e = re;
    r0o = ro;
    h0e = he;
    h0o = ho;
    at += width;
  }
  let limit = thresholds + ((<usize>(g * (height + 2) + top)) << 5);
  for (let y = top; y < bottom; y++) {
    const s0 = i16x8.extadd_pairwise_i8x16_u(v128.load(at));
    const s1 = i16x8.extadd_pairwise_i8x16_u(v128.load(at, 1));
    const s2 = i16x8.extadd_pairwise_i8x16_u(v128.load(at, 2));
    const s3 = i16x8.extadd_pairwise_i8x16_u(v128.load(at, 3));
    const s4 = i16x8.extadd_pairwise_i8x16_u(v128.load(at, 4));
    const m = i16x8.add(i16x8.add(s1, s2), s3);
    const he = i16x8.add(m, s0), ho = i16x8.add(m, s4);
    const re = i16x8.add(he, h0e), ro = i16x8.add(ho, h0o);
    const qe = i16x8.add(re, r0e), qo = i16x8.add(ro, r0o);
    const fe = i16x8.sub(i16x8.add(qe, q1e), shift), fo = i16x8.sub(i16x8.add(qo, q1o), shift);
    q1e = q0e;
    q1o = q0o;
    q0e = qe;
    q0o = qo;
    r0e = re;
    r0o = ro;
    h0e = he;
    h0o = ho;
    if (v128.any_true(i16x8.gt_s(i16x8.max_s(fe, fo), lowest))) {
      const te = v128.load(limit), to = v128.load(limit, 16);
      const me = i16x8.gt_s(fe, te), mo = i16x8.gt_s(fo, to);
      const pixel = y * width + (g << 4) + 2;
      count = emitLanes16(hits, count, capacity, me, fe, i16x8.add(te, one), scratch, pixel);
      count = emitLanes16(hits, count, capacity, mo, fo, i16x8.add(to, one), scratch, pixel + 1);
    }
    at += width;
    limit += 32;
  }
  return count;
}

// @ts-ignore: decorator
@inline
function rowPairBytes(at: usize, row: usize): v128 {
  return i16x8.add(
    i16x8.extadd_pairwise_i8x16_u(v128.load(at)), i16x8.extadd_pairwise_i8x16_u(v128.load(at + row)),
  );
}

/** Each entry and its right neighbour, the last one's being the first of `next`. */
// @ts-ignore: decorator
@inline
function withRight16(m: v128, next: v128): v128 {
  return i16x8.add(m, i16x8.shuffle(m, next, 1, 2, 3, 4, 5, 6, 7, 8));
}

// @ts-ignore: decorator
@inline
function quadsBytes(at: usize): v128 {
  return i16x8.add(i16x8.extadd_pairwise_i8x16_u(v128.load(at, 1)), i16x8.extadd_pairwise_i8x16_u(v128.load(at, 3)));
}

/** 1 where any box of the block reaches its threshold. `at`: first row of the boxes, first column of the strip. */
// @ts-ignore: decorator
@inline
function boxReachesBytes(at: usize, row: usize, shift: v128, limit: usize): i32 {
  const p0 = i16x8.add(quadsBytes(at), quadsBytes(at + row));
  const p1 = i16x8.add(quadsBytes(at + 2 * row), quadsBytes(at + 3 * row));
  const p2 = i16x8.add(quadsBytes(at + 4 * row), quadsBytes(at + 5 * row));
  const p3 = i16x8.add(quadsBytes(at + 6 * row), quadsBytes(at + 7 * row));
  const p4 = i16x8.add(quadsBytes(at + 8 * row), quadsBytes(at + 9 * row));
  const r0 = i16x8.gt_s(i16x8.sub(i16x8.add(p0, p1), shift), v128.load(limit));
  const r1 = i16x8.gt_s(i16x8.sub(i16x8.add(p1, p2), shift), v128.load(limit, 16));
  const r2 = i16x8.gt_s(i16x8.sub(i16x8.add(p2, p3), shift), v128.load(limit, 32));
  const r3 = i16x8.gt_s(i16x8.sub(i16x8.add(p3, p4), shift), v128.load(limit, 48));
  return i32(v128.any_true(v128.or(v128.or(r0, r1), v128.or(r2, r3))));
}

/**
 * Scans an 8 bit frame. Hits are (pixel, excess) pairs of i32, in an order that puts those of each strip of a row
 * from left to right, and even before odd columns within a strip.
 * @param first      first thresholds, i16, 8 boxes in each of the 4 rows of a block; 0 to filter everything
 * @param leasts     the least first threshold and the least threshold of each block, i16
 * @param thresholds i16, 16 a strip and row
 * @param level      added to every threshold, a quarter of it to the first ones; |level| < 8000
 * @param list       i32, as many as there are blocks
 * @param scratch    16 bytes
 * @returns the number of hits, which may exceed `capacity`; then only the first `capacity` were stored
 */
export function scanBytes(
  frame: usize, width: i32, height: i32, first: usize, leasts: usize, thresholds: usize, level: i32,
  hits: usize, capacity: i32, list: usize, scratch: usize,
): i32 {
  const strips = (width - 4 + 15) >> 4;
  const whole = first == 0 ? 0 : (width - 4) >> 4;
  const blocks = (height - 4) >> 3;
  const shift = i16x8.splat(<i16>(level >> 2));
  const row = <usize>width;
  // Blocks that pass the least of their thresholds. A list, and no branch, so that the fetches of the next steps overlap.
  let listed = 0;
  let least = leasts;
  for (let b = 0; b < blocks && whole > 0; b++) {
    let at = frame + <usize>((b << 3) + 1) * row + 1;
    let p0 = rowPairBytes(at, row), p1 = rowPairBytes(at + 2 * row, row), p2 = rowPairBytes(at + 4 * row, row);
    let p3 = rowPairBytes(at + 6 * row, row), p4 = rowPairBytes(at + 8 * row, row);
    let m0 = i16x8.add(p0, p1), m1 = i16x8.add(p1, p2), m2 = i16x8.add(p2, p3), m3 = i16x8.add(p3, p4);
    for (let g = 0; g < whole; g++) {
      at += 16;
      p0 = rowPairBytes(at, row);
      p1 = rowPairBytes(at + 2 * row, row);
      p2 = rowPairBytes(at + 4 * row, row);
      p3 = rowPairBytes(at + 6 * row, row);
      p4 = rowPairBytes(at + 8 * row, row);
      const n0 = i16x8.add(p0, p1), n1 = i16x8.add(p1, p2), n2 = i16x8.add(p2, p3), n3 = i16x8.add(p3, p4);
      const b0 = withRight16(m0, n0), b1 = withRight16(m1, n1), b2 = withRight16(m2, n2), b3 = withRight16(m3, n3);
      m0 = n0;
      m1 = n1;
      m2 = n2;
      m3 = n3;
      const most = i16x8.sub(i16x8.max_s(i16x8.max_s(b0, b1), i16x8.max_s(b2, b3)), shift);
      store<i32>(list + (<usize>listed << 2), (b << 16) | g);
      listed += i32(v128.any_true(i16x8.gt_s(most, v128.load16_splat(least))));
      least += 4;
    }
  }
  // Of these, the ones with a box that reaches its own threshold.
  let lit = 0;
  for (let i = 0; i < listed; i++) {
    const entry = load<i32>(list + (<usize>i << 2));
    const b = entry >> 16, g = entry & 0xffff;
    const k = <usize>(b * whole + g);
    store<i32>(list + (<usize>lit << 2), entry);
    lit += boxReachesBytes(frame + <usize>((b << 3) + 1) * row + (<usize>g << 4), row, shift, first + (k << 6));
  }
  let count = 0;
  for (let i = 0; i < lit; i++) {
    const entry = load<i32>(list + (<usize>i << 2));
    const b = entry >> 16, g = entry & 0xffff;
    const top = (b << 3) + 2;
    const lowest = <i32>load<i16>(leasts + (<usize>(b * whole + g) << 2), 2);
    count = matchBytes(
      frame, width, height, thresholds, lowest, level, g, top, top + 8, hits, count, capacity, scratch,
    );
  }
  for (let g = 0; g < strips; g++) {
    const top = g < whole ? (blocks << 3) + 2 : 2;
    count = matchBytes(
      frame, width, height, thresholds, <i32>i16.MIN_VALUE, level, g, top, height - 2, hits, count, capacity, scratch,
    );
  }
  return count;
}

/** The same for 16 bit: in the rows `top` to `bottom` (exclusive) of strip g. Returns the number of hits so far. */
function matchWords(
  frame: usize, width: i32, height: i32, thresholds: usize, least: i32, level: i32, g: i32, top: i32, bottom: i32,
  hits: usize, count: i32, capacity: i32, scratch: usize,
): i32 {
  const shift = i32x4.splat(level);
  const one = i32x4.splat(1);
  const lowest = i32x4.splat(least);
  let at = frame + ((<usize>((top - 2) * width + (g << 3))) << 1);
  // Row sums of the four rows above the first complete one.
  let h0e = i32x4.splat(0), h0o = h0e; // last row
  let r0e = h0e, r0o = h0e; // last pair of rows
  let q0e = h0e, q0o = h0e; // last pair of pairs
  let q1e = h0e, q1o = h0e; // the one before
  for (let k = 0; k < 4; k++) {
    const s0 = i32x4.extadd_pairwise_i16x8_u(v128.load(at));
    const s1 = i32x4.extadd_pairwise_i16x8_u(v128.load(at, 2));
    const s2 = i32x4.extadd_pairwise_i16x8_u(v128.load(at, 4));
    const s3 = i32x4.extadd_pairwise_i16x8_u(v128.load(at, 6));
    const s4 = i32x4.extadd_pairwise_i16x8_u(v128.load(at, 8));
    const m = i32x4.add(i32x4.add(s1, s2), s3);
    const he = i32x4.add(m, s0), ho = i32x4.add(m, s4);
    const re = i32x4.add(he, h0e), ro = i32x4.add(ho, h0o);
    q1e = q0e;
    q1o = q0o;
    q0e = i32x4.add(re, r0e);
    q0o = i32x4.add(ro, r0o);
    r0e = re;
    r0o = ro;
    h0e = he;
    h0o = ho;
    at += <usize>width << 1;
  }
  let limit = thresholds + ((<usize>(g * (height + 2) + top)) << 5);
  for (let y = top; y < bottom; y++) {
    const s0 = i32x4.extadd_pairwise_i16x8_u(v128.load(at));
    const s1 = i32x4.extadd_pairwise_i16x8_u(v128.load(at, 2));
    const s2 = i32x4.extadd_pairwise_i16x8_u(v128.load(at, 4));
    const s3 = i32x4.extadd_pairwise_i16x8_u(v128.load(at, 6));
    const s4 = i32x4.extadd_pairwise_i16x8_u(v128.load(at, 8));
    const m = i32x4.add(i32x4.add(s1, s2), s3);
    const he = i32x4.add(m, s0), ho = i32x4.add(m, s4);
    const re = i32x4.add(he, h0e), ro = i32x4.add(ho, h0o);
    const qe = i32x4.add(re, r0e), qo = i32x4.add(ro, r0o);
    const fe = i32x4.sub(i32x4.add(qe, q1e), shift), fo = i32x4.sub(i32x4.add(qo, q1o), shift);
    q1e = q0e;
    q1o = q0o;
    q0e = qe;
    q0o = qo;
    r0e = re;
    r0o = ro;
    h0e = he;
    h0o = ho;
    if (v128.any_true(i32x4.gt_s(i32x4.max_s(fe, fo), lowest))) {
      const te = v128.load(limit), to = v128.load(limit, 16);
      const me = i32x4.gt_s(fe, te), mo = i32x4.gt_s(fo, to);
      const pixel = y * width + (g << 3) + 2;
      count = emitLanes32(hits, count, capacity, me, fe, i32x4.add(te, one), scratch, pixel);
      count = emitLanes32(hits, count, capacity, mo, fo, i32x4.add(to, one), scratch, pixel + 1);
    }
    at += <usize>width << 1;
    limit += 32;
  }
  return count;
}

// @ts-ignore: decorator
@inline
function rowPairWords(at: usize, row: usize): v128 {
  return i32x4.add(
    i32x4.extadd_pairwise_i16x8_u(v128.load(at)), i32x4.extadd_pairwise_i16x8_u(v128.load(at + row)),
  );
}

// @ts-ignore: decorator
@inline
function withRight32(m: v128, next: v128): v128 {
  return i32x4.add(m, i32x4.shuffle(m, next, 1, 2, 3, 4));
}

// @ts-ignore: decorator
@inline
function quadsWords(at: usize): v128 {
  return i32x4.add(i32x4.extadd_pairwise_i16x8_u(v128.load(at, 2)), i32x4.extadd_pairwise_i16x8_u(v128.load(at, 6)));
}

/** 1 where any box of the block reaches its threshold. `at`: first row of the boxes, first column of the strip. */
// @ts-ignore: decorator
@inline
function boxReachesWords(at: usize, row: usize, shift: v128, limit: usize): i32 {
  const p0 = i32x4.add(quadsWords(at), quadsWords(at + row));
  const p1 = i32x4.add(quadsWords(at + 2 * row), quadsWords(at + 3 * row));
  const p2 = i32x4.add(quadsWords(at + 4 * row), quadsWords(at + 5 * row));
  const p3 = i32x4.add(quadsWords(at + 6 * row), quadsWords(at + 7 * row));
  const p4 = i32x4.add(quadsWords(at + 8 * row), quadsWords(at + 9 * row));
  const r0 = i32x4.gt_s(i32x4.sub(i32x4.add(p0, p1), shift), v128.load(limit));
  const r1 = i32x4.gt_s(i32x4.sub(i32x4.add(p1, p2), shift), v128.load(limit, 16));
  const r2 = i32x4.gt_s(i32x4.sub(i32x4.add(p2, p3), shift), v128.load(limit, 32));
  const r3 = i32x4.gt_s(i32x4.sub(i32x4.add(p3, p4), shift), v128.load(limit, 48));
  return i32(v128.any_true(v128.or(v128.or(r0, r1), v128.or(r2, r3))));
}

/** Scans a 16 bit frame as `scanBytes` does one of 8 bit; both maps are i32, of half as many columns; |level| < 2^29. */
export function scanWords(
  frame: usize, width: i32, height: i32, first: usize, leasts: usize, thresholds: usize, level: i32,
  hits: usize, capacity: i32, list: usize, scratch: usize,
): i32 {
  const strips = (width - 4 + 7) >> 3;
  const whole = first == 0 ? 0 : (width - 4) >> 3;
  const blocks = (height - 4) >> 3;
  const shift = i32x4.splat(level >> 2);
  const row = <usize>width << 1;
  // Blocks that pass the least of their thresholds. A list, and no branch, so that the fetches of the next steps overlap.
  let listed = 0;
  let least = leasts;
  for (let b = 0; b < blocks && whole > 0; b++) {
    let at = frame + <usize>((b << 3) + 1) * row + 2;
    let p0 = rowPairWords(at, row), p1 = rowPairWords(at + 2 * row, row), p2 = rowPairWords(at + 4 * row, row);
    let p3 = rowPairWords(at + 6 * row, row), p4 = rowPairWords(at + 8 * row, row);
    let m0 = i32x4.add(p0, p1), m1 = i32x4.add(p1, p2), m2 = i32x4.add(p2, p3), m3 = i32x4.add(p3, p4);
    for (let g = 0; g < whole; g++) {
      at += 16;
      p0 = rowPairWords(at, row);
      p1 = rowPairWords(at + 2 * row, row);
      p2 = rowPairWords(at + 4 * row, row);
      p3 = rowPairWords(at + 6 * row, row);
      p4 = rowPairWords(at + 8 * row, row);
      const n0 = i32x4.add(p0, p1), n1 = i32x4.add(p1, p2), n2 = i32x4.add(p2, p3), n3 = i32x4.add(p3, p4);
      const b0 = withRight32(m0, n0), b1 = withRight32(m1, n1), b2 = withRight32(m2, n2), b3 = withRight32(m3, n3);
      m0 = n0;
      m1 = n1;
      m2 = n2;
      m3 = n3;
      const most = i32x4.sub(i32x4.max_s(i32x4.max_s(b0, b1), i32x4.max_s(b2, b3)), shift);
      store<i32>(list + (<usize>listed << 2), (b << 16) | g);
      listed += i32(v128.any_true(i32x4.gt_s(most, v128.load32_splat(least))));
      least += 8;
    }
  }
  // Of these, the ones with a box that reaches its own threshold.
  let lit = 0;
  for (let i = 0; i < listed; i++) {
    const entry = load<i32>(list + (<usize>i << 2));
    const b = entry >> 16, g = entry & 0xffff;
    const k = <usize>(b * whole + g);
    store<i32>(list + (<usize>lit << 2), entry);
    lit += boxReachesWords(frame + <usize>((b << 3) + 1) * row + (<usize>g << 4), row, shift, first + (k << 6));
  }
  let count = 0;
  for (let i = 0; i < lit; i++) {
    const entry = load<i32>(list + (<usize>i << 2));
    const b = entry >> 16, g = entry & 0xffff;
    const top = (b << 3) + 2;
    const lowest = <i32>load<i32>(leasts + (<usize>(b * whole + g) << 3), 4);
    count = matchWords(
      frame, width, height, thresholds, lowest, level, g, top, top + 8, hits, count, capacity, scratch,
    );
  }
  for (let g = 0; g < strips; g++) {
    const top = g < whole ? (blocks << 3) + 2 : 2;
    count = matchWords(
      frame, width, height, thresholds, i32.MIN_VALUE, level, g, top, height - 2, hits, count, capacity, scratch,
    );
  }
  return count;
}
