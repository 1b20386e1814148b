import { kernelMemory, layOut } from './kernelModule.ts';
import type { RemapMap } from './RemapMap.ts';

/** Applies one map to image after image, 8 bit a channel. */
export interface Remap {
  readonly form: 'simd' | 'plain';
  /** Where a decoder may put the source; `run` of this array costs no copy. */
  readonly source: Uint8Array;
  /**
   * Bilinear interpolation at the places of the map. Borrowed: the result is valid until the next call.
   * Accuracy: within 1 grey level of rounding, and 1/256 of the step between neighbours in each axis, of the exact value.
   */
  run(source: Uint8Array): Uint8Array;
}

/** @param form which kind of loop; the results are the same. By default SIMD where the engine has it */
export function startRemap(map: RemapMap, form?: 'simd' | 'plain'): Remap {
  const simd = form === 'plain' ? null : simdRemap(map);
  if (!simd && form === 'simd') throw new Error('this engine has no WebAssembly with SIMD');
  return simd ?? plainRemap(map);
}

function checkSource(source: Uint8Array, map: RemapMap): void {
  const expected = map.sourceWidthPx * map.sourceHeightPx * map.channels;
  if (source.length !== expected)
    throw new RangeError(
      `a source of ${source.length} bytes for a map of ${map.sourceWidthPx} x ${map.sourceHeightPx} px, ${map.channels} channels`,
    );
}

function simdRemap(map: RemapMap): Remap | null {
  const { channels, sourceWidthPx, sourceHeightPx } = map;
  const count = map.widthPx * map.heightPx;
  const stride = sourceWidthPx * channels;
  const groups = channels === 1 ? Math.ceil(count / GROUP) : 0;
  const plan = layOut();
  const at = {
    // A row of zeros behind, where a map entry without neighbours points to.
    source: plan.take(stride * (sourceHeightPx + 1) + 64),
    out: plan.take(count * channels),
    bases: plan.take(4 * groups),
    steps: plan.take(GROUP * groups),
    offsets: plan.take(4 * count),
    weights: plan.take(2 * count),
  };
  const memory = kernelMemory(plan.bytes);
  if (!memory) return null;
  const { kernels, buffer } = memory;
  new Uint32Array(buffer, at.offsets, count).set(map.offsets);
  new Uint16Array(buffer, at.weights, count).set(map.weights);
  groupInto(new Uint32Array(buffer, at.bases, groups), new Uint8Array(buffer, at.steps, GROUP * groups), map.offsets);
  const own = new Uint8Array(buffer, at.source, stride * sourceHeightPx);
  const out = new Uint8Array(buffer, at.out, count * channels);
  const kernel = channels === 1 ? kernels.remapGrey : channels === 3 ? kernels.remapRgb : kernels.remapRgba;
  return {
    form: 'simd',
    source: own,
    run(source) {
      checkSource(source, map);
      if (source.buffer !== buffer || source.byteOffset !== at.source) own.set(source);
      kernel(at.out, at.source, stride, at.bases, at.steps, at.offsets, at.weights, count);
      return out;
    },
  };
}

/** Grey pixels whose neighbours are fetched together where they lie together. */
const GROUP = 8;
/** A left neighbour no farther than this from the first one: the right one is still within 16 bytes. */
const FARTHEST = 14;
/** A group whose neighbours are fetched one by one. */
const FAR = 0xffffffff;

/** For each group of output pixels, where its neighbours begin if they lie together, and how far each pixel's are from there. */
function groupInto(bases: Uint32Array, steps: Uint8Array, offsets: Uint32Array): void {
  for (let g = 0; g < bases.length; g++) {
    const members = offsets.subarray(g * GROUP, (g + 1) * GROUP);
    const base = members.reduce((least, offset) => Math.min(least, offset));
    const isNear = members.length === GROUP && members.every((offset) => offset - base <= FARTHEST);
    bases[g] = isNear ? base : FAR;
    if (isNear) for (let k = 0; k < GROUP; k++) steps[g * GROUP + k] = members[k] - base;
  }
}

function plainRemap(map: RemapMap): Remap {
  const { channels, sourceWidthPx, sourceHeightPx, offsets, weights } = map;
  const stride = sourceWidthPx * channels;
  const length = stride * sourceHeightPx;
  const own = new Uint8Array(length);
  const out = new Uint8Array(offsets.length * channels);
  return {
    form: 'plain',
    source: own,
    run(source) {
      checkSource(source, map);
      const at = (i: number): number => (i < length ? source[i] : 0);
      for (let i = 0; i < offsets.length; i++) {
        const offset = offsets[i];
        if (offset === length) {
          out.fill(0, i * channels, (i + 1) * channels);
          continue;
        }
        const across = (weights[i] & 255) << 8;
        const down = weights[i] >> 8;
        for (let c = offset; c < offset + channels; c++) {
          // Whole numbers and two roundings, as in kernels/remap.ts.
          const left = source[c] * 128 + (at(c + stride) - source[c]) * down;
          const right = at(c + channels) * 128 + (at(c + stride + channels) - at(c + channels)) * down;
          out[i * channels + c - offset] = (left + (((right - left) * across + 0x4000) >> 15) + 64) >> 7;
        }
      }
      return out;
    },
  };
}
