// The matched filter [1 2 2 2 1] down times [1 2 2 2 1] across, compared with a threshold map, where a first look allows.
//
// First look: sums over boxes of 4 x 4 pixels, two pixels apart, against a lower threshold of their own. A block of the
// image, 8 rows of one strip, none of whose boxes reaches it is passed over.
//
// Before that, each block is held against the least threshold of its boxes by a bound that no box of it exceeds: sums over
// four rows in the width of a pixel, the largest of each column, and of these the sums over four columns. Where such a sum
// meets the limit of its width, the block counts as reaching it. Most blocks end here, after two operations a row and vector.
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
//
// P is the type of a pixel (u8, u16), S that of sums and thresholds (i16, i32).

// @ts-ignore: decorator
@inline
function columnsOfStrip<P>(): i32 {
  return 16 / sizeof<P>();
}

/** Less than any threshold. */
// @ts-ignore: decorator
@inline
function noThreshold<S>(): i32 {
  return sizeof<S>() == 2 ? <i32>i16.MIN_VALUE : i32.MIN_VALUE;
}

/** Each entry and its right neighbour, the last one's being the first of `next`. */
// @ts-ignore: decorator
@inline
function withRight<S>(m: v128, next: v128): v128 {
  return v128.add<S>(
    m, sizeof<S>() == 2 ? i16x8.shuffle(m, next, 1, 2, 3, 4, 5, 6, 7, 8) : i32x4.shuffle(m, next, 1, 2, 3, 4),
  );
}

// Not inlined: the loop keeps its registers.
function emitLanes<S>(
  hits: usize, count: i32, capacity: i32, mask: v128, value: v128, threshold: v128, scratch: usize, pixel: i32,
): i32 {
  let bits = v128.bitmask<S>(mask);
  if (bits == 0) return count;
  v128.store(scratch, v128.sub<S>(value, threshold));
  while (bits != 0) {
    const lane = ctz(bits);
    bits &= bits - 1;
    if (count < capacity) {
      const hit = hits + ((<usize>count) << 3);
      store<i32>(hit, pixel + (lane << 1));
      store<i32>(hit, load<S>(scratch + (<usize>lane << alignof<S>())), 4);
    }
    count++;
  }
  return count;
}

/**
 * The filter in the rows `top` to `bottom` (exclusive) of strip g. Returns the number of hits so far.
 * @param least no threshold in these rows is lower
 */
function matchRows<P, S>(
  frame: usize, width: i32, height: i32, thresholds: usize, least: i32, level: i32, g: i32, top: i32, bottom: i32,
  hits: usize, count: i32, capacity: i32, scratch: usize,
): i32 {
  const row = <usize>width << alignof<P>();
  const shift = v128.splat<S>(<S>level);
  const one = v128.splat<S>(1);
  const lowest = v128.splat<S>(<S>least);
  let at = frame + <usize>(top - 2) * row + (<usize>g << 4);
  let limit = thresholds + ((<usize>(g * (height + 2) + top)) << 5);
  let h0e = v128.splat<S>(0), h0o = h0e; // last row
  let r0e = h0e, r0o = h0e; // last pair of rows
  let q0e = h0e, q0o = h0e; // last pair of pairs
  let q1e = h0e, q1o = h0e; // the one before
  for (let y = top - 4; y < bottom; y++) {
    const s0 = v128.extadd_pairwise<P>(v128.load(at));
    const s1 = v128.extadd_pairwise<P>(v128.load(at, sizeof<P>()));
    const s2 = v128.extadd_pairwise<P>(v128.load(at, 2 * sizeof<P>()));
    const s3 = v128.extadd_pairwise<P>(v128.load(at, 3 * sizeof<P>()));
    const s4 = v128.extadd_pairwise<P>(v128.load(at, 4 * sizeof<P>()));
    const m = v128.add<S>(v128.add<S>(s1, s2), s3);
    const he = v128.add<S>(m, s0), ho = v128.add<S>(m, s4);
    const re = v128.add<S>(he, h0e), ro = v128.add<S>(ho, h0o);
    const qe = v128.add<S>(re, r0e), qo = v128.add<S>(ro, r0o);
    const fe = v128.sub<S>(v128.add<S>(qe, q1e), shift), fo = v128.sub<S>(v128.add<S>(qo, q1o), shift);
    q1e = q0e;
    q1o = q0o;
    q0e = qe;
    q0o = qo;
    r0e = re;
    r0o = ro;
    h0e = he;
    h0o = ho;
    at += row;
    // The first four rows only fill the sums.
    if (y < top) continue;
    if (v128.any_true(v128.gt<S>(v128.max<S>(fe, fo), lowest))) {
      const te = v128.load(limit), to = v128.load(limit, 16);
      const me = v128.gt<S>(fe, te), mo = v128.gt<S>(fo, to);
      if (v128.any_true(v128.or(me, mo))) {
        const pixel = y * width + g * columnsOfStrip<P>() + 2;
        count = emitLanes<S>(hits, count, capacity, me, fe, v128.add<S>(te, one), scratch, pixel);
        count = emitLanes<S>(hits, count, capacity, mo, fo, v128.add<S>(to, one), scratch, pixel + 1);
      }
    }
    limit += 32;
  }
  return count;
}

/** Lists the strips, of one row of blocks, whose block may reach the least of its thresholds; returns how many. */
// @ts-ignore: decorator
@inline
function listStrips<P, S>(at: usize, row: usize, whole: i32, least: usize, shift: v128, list: usize): i32 {
  const full = v128.splat<P>(<P>-1);
  let pairsAbove = v128.splat<S>(0), pairsBelow = pairsAbove;
  let isFull = pairsAbove;
  // The first round looks at strip -1, whose block there is not: nothing is listed, only what the next one needs is made.
  let to = list;
  let never = 0;
  // No branch in the loop, so that the fetches of the next steps overlap.
  for (let g = -1; g < whole; g++) {
    // Ten loads and no more: with these the compiler of the engine still has registers for all.
    const b = at + row, c = b + row, d = c + row, e = d + row, f = e + row, h = f + row, i = h + row, j = i + row, k = j + row;
    const p0 = v128.add_sat<P>(v128.load(at), v128.load(b)), p1 = v128.add_sat<P>(v128.load(c), v128.load(d));
    const p2 = v128.add_sat<P>(v128.load(e), v128.load(f)), p3 = v128.add_sat<P>(v128.load(h), v128.load(i));
    const p4 = v128.add_sat<P>(v128.load(j), v128.load(k));
    const above = v128.max<P>(v128.add_sat<P>(p0, p1), v128.add_sat<P>(p1, p2));
    const below = v128.max<P>(v128.add_sat<P>(p2, p3), v128.add_sat<P>(p3, p4));
    const nextAbove = v128.extadd_pairwise<P>(above), nextBelow = v128.extadd_pairwise<P>(below);
    const nextIsFull = v128.eq<P>(v128.max<P>(above, below), full);
    const most = v128.max<S>(withRight<S>(pairsAbove, nextAbove), withRight<S>(pairsBelow, nextBelow));
    const reaches = v128.gt<S>(v128.sub<S>(most, shift), v128.load_splat<S>(least));
    store<i32>(to, g);
    to += <usize>(<i32>v128.any_true(v128.or(reaches, v128.or(isFull, nextIsFull))) & never) << 2;
    never = 1;
    pairsAbove = nextAbove;
    pairsBelow = nextBelow;
    isFull = nextIsFull;
    at += 16;
    least += 2 * sizeof<S>();
  }
  return <i32>((to - list) >> 2);
}

// @ts-ignore: decorator
@inline
function sumsOfFour<P, S>(at: usize): v128 {
  return v128.add<S>(
    v128.extadd_pairwise<P>(v128.load(at, sizeof<P>())), v128.extadd_pairwise<P>(v128.load(at, 3 * sizeof<P>())),
  );
}

/**
 * 1 where any box of the block reaches its threshold. `at`: first row of the boxes, first column of the strip. The thresholds lie
 * far apart: they are not fetched unless a box reaches the least of them.
 */
function boxReaches<P, S>(at: usize, row: usize, shift: v128, least: usize, limit: usize): i32 {
  const p0 = v128.add<S>(sumsOfFour<P, S>(at), sumsOfFour<P, S>(at + row));
  const p1 = v128.add<S>(sumsOfFour<P, S>(at + 2 * row), sumsOfFour<P, S>(at + 3 * row));
  const p2 = v128.add<S>(sumsOfFour<P, S>(at + 4 * row), sumsOfFour<P, S>(at + 5 * row));
  const p3 = v128.add<S>(sumsOfFour<P, S>(at + 6 * row), sumsOfFour<P, S>(at + 7 * row));
  const p4 = v128.add<S>(sumsOfFour<P, S>(at + 8 * row), sumsOfFour<P, S>(at + 9 * row));
  const b0 = v128.sub<S>(v128.add<S>(p0, p1), shift), b1 = v128.sub<S>(v128.add<S>(p1, p2), shift);
  const b2 = v128.sub<S>(v128.add<S>(p2, p3), shift), b3 = v128.sub<S>(v128.add<S>(p3, p4), shift);
  const most = v128.max<S>(v128.max<S>(b0, b1), v128.max<S>(b2, b3));
  if (!v128.any_true(v128.gt<S>(most, v128.load_splat<S>(least)))) return 0;
  const r01 = v128.or(v128.gt<S>(b0, v128.load(limit)), v128.gt<S>(b1, v128.load(limit, 16)));
  const r23 = v128.or(v128.gt<S>(b2, v128.load(limit, 32)), v128.gt<S>(b3, v128.load(limit, 48)));
  return i32(v128.any_true(v128.or(r01, r23)));
}

// @ts-ignore: decorator
@inline
function scan<P, S>(
  frame: usize, width: i32, height: i32, first: usize, leasts: usize, thresholds: usize, level: i32,
  hits: usize, capacity: i32, list: usize, scratch: usize,
): i32 {
  const strips = (width - 4 + columnsOfStrip<P>() - 1) / columnsOfStrip<P>();
  const whole = first == 0 ? 0 : (width - 4) / columnsOfStrip<P>();
  const blocks = (height - 4) >> 3;
  const shift = v128.splat<S>(<S>(level >> 2));
  const row = <usize>width << alignof<P>();
  let count = 0;
  for (let b = 0; b < blocks && whole > 0; b++) {
    // Block by block after the whole row: branches that are hard to foretell then wait for nothing, and its pixels are still near.
    const corner = frame + <usize>((b << 3) + 1) * row;
    const block = <usize>(b * whole);
    const top = (b << 3) + 2;
    const listed = listStrips<P, S>(corner + sizeof<P>(), row, whole, leasts + block * (2 * sizeof<S>()) - 2 * sizeof<S>(), shift, list);
    let lit = 0;
    for (let i = 0; i < listed; i++) {
      const g = load<i32>(list + (<usize>i << 2));
      store<i32>(list + (<usize>lit << 2), g);
      lit += boxReaches<P, S>(corner + (<usize>g << 4), row, shift, leasts + (block + <usize>g) * (2 * sizeof<S>()), first + ((block + <usize>g) << 6));
    }
    for (let i = 0; i < lit; i++) {
      const g = load<i32>(list + (<usize>i << 2));
      const lowest = <i32>load<S>(leasts + (block + <usize>g) * (2 * sizeof<S>()), sizeof<S>());
      count = matchRows<P, S>(
        frame, width, height, thresholds, lowest, level, g, top, top + 8, hits, count, capacity, scratch,
      );
    }
  }
  for (let g = 0; g < strips; g++) {
    const top = g < whole ? (blocks << 3) + 2 : 2;
    count = matchRows<P, S>(
      frame, width, height, thresholds, noThreshold<S>(), level, g, top, height - 2, hits, count, capacity, scratch,
    );
  }
  return count;
}

/**
 * Scans an 8 bit frame. Hits are (pixel, excess) pairs of i32, in an order that puts those of each strip of a row
 * from left to right, and even before odd columns within a strip.
 * @param first      first thresholds, i16, 8 boxes in each of the 4 rows of a block; 0 to filter everything
 * @param leasts     the least first threshold and the least threshold of each block, i16
 * @param thresholds i16, 16 a strip and row
 * @param level      added to every threshold, a quarter of it to the first ones; |level| < 8000
 * @param list       i32, one more than there are strips
 * @param scratch    16 bytes
 * @returns the number of hits, which may exceed `capacity`; then only the first `capacity` were stored
 */
export function scanBytes(
  frame: usize, width: i32, height: i32, first: usize, leasts: usize, thresholds: usize, level: i32,
  hits: usize, capacity: i32, list: usize, scratch: usize,
): i32 {
  return scan<u8, i16>(frame, width, height, first, leasts, thresholds, level, hits, capacity, list, scratch);
}

/** Scans a 16 bit frame as `scanBytes` does one of 8 bit; both maps are i32, of half as many columns; |level| < 2^29. */
export function scanWords(
  frame: usize, width: i32, height: i32, first: usize, leasts: usize, thresholds: usize, level: i32,
  hits: usize, capacity: i32, list: usize, scratch: usize,
): i32 {
  return scan<u16, i32>(frame, width, height, first, leasts, thresholds, level, hits, capacity, list, scratch);
}
