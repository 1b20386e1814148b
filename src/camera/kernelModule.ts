import { KERNEL_BINARY_BASE64, SHARED_FLAG_AT } from './kernelBinary.ts';

/** The part of the standard WebAssembly interface that is used here; the same in Node, browsers and workers. */
interface Wasm {
  validate(bytes: Uint8Array): boolean;
  Module: new (bytes: Uint8Array) => object;
  Memory: new (size: { initial: number; maximum: number; shared: boolean }) => SharableMemory;
  Instance: new (module: object, imports: object) => { readonly exports: unknown };
}

/** A WebAssembly.Memory; one of several threads can be sent to another thread, and is the same memory there. */
export interface SharableMemory {
  readonly buffer: ArrayBufferLike;
}

/** Addresses are bytes from the start of the memory. What each function does is told in `kernels/`. */
export interface KernelFunctions {
  readonly probeBytes: ProbeKernel;
  readonly probeWords: ProbeKernel;
  readonly scanBytes: ScanKernel;
  readonly scanWords: ScanKernel;
  readonly foldBytes: FoldKernel;
  readonly foldWords: FoldKernel;
  readonly learnBytes: LearnKernel;
  readonly learnWords: LearnKernel;
  readonly settleBytes: SettleKernel;
  readonly settleWords: SettleKernel;
  readonly remapGrey: RemapKernel;
  readonly remapRgb: RemapKernel;
  readonly remapRgba: RemapKernel;
}
type ProbeKernel = (
  frame: number,
  runs: number,
  count: number,
  mean: number,
  perNoise: number,
  clip: number,
  sample: number,
  bins: number,
  out: number,
) => void;
type ScanKernel = (
  frame: number,
  widthPx: number,
  heightPx: number,
  firstThresholds: number,
  leasts: number,
  thresholds: number,
  level: number,
  hits: number,
  capacity: number,
  list: number,
  scratch: number,
) => number;
type FoldKernel = (
  frame: number,
  reference: number,
  clip: number,
  count: number,
  sum: number,
  squares: number,
  widthPx: number,
  heightPx: number,
  level: number,
  firstRow: number,
  rowStep: number,
) => void;
type LearnKernel = (
  mean: number,
  noise: number,
  reference: number,
  count: number,
  sum: number,
  squares: number,
  widthPx: number,
  heightPx: number,
  leastSamples: number,
  rests: number,
  shares: number,
) => void;
type SettleKernel = (
  mean: number,
  noise: number,
  firstThresholds: number,
  leasts: number,
  thresholds: number,
  reference: number,
  clip: number,
  widthPx: number,
  heightPx: number,
  firstSigmas: number,
  sigmas: number,
  clipSigmas: number,
  mostClip: number,
  never: number,
  scratch: number,
) => void;
type RemapKernel = (
  out: number,
  source: number,
  strideBytes: number,
  bases: number,
  steps: number,
  offsets: number,
  weights: number,
  count: number,
) => void;

const wasm = (globalThis as unknown as { WebAssembly?: Wasm }).WebAssembly;
const PAGE_BYTES = 65536;
const MOST_PAGES = 65536;
/** Compiled when first asked for, for a memory of one thread and for a shared one; null where there is no WebAssembly with SIMD. */
const compiled = new Map<boolean, object | null>();

function compiledKernels(shared: boolean): object | null {
  let module = compiled.get(shared);
  if (module === undefined) {
    const bytes = Uint8Array.from(atob(KERNEL_BINARY_BASE64), (char) => char.charCodeAt(0));
    if (!shared) bytes[SHARED_FLAG_AT] = 1;
    module = wasm?.validate(bytes) ? new wasm.Module(bytes) : null;
    compiled.set(shared, module);
  }
  return module;
}

/** Whether the kernels run on this engine; where not, their twins in TypeScript give the same results. */
export const hasKernels = (): boolean => compiledKernels(false) !== null;

export interface KernelMemory {
  readonly kernels: KernelFunctions;
  readonly buffer: ArrayBufferLike;
}

/** The kernels on a memory of their own, of at least `bytes` zeros, or null where this engine has no SIMD. */
export function kernelMemory(bytes: number): KernelMemory | null {
  const memory = memoryOf(bytes, false);
  return memory && kernelsOn(memory, false);
}

/** A memory of at least `bytes` zeros that several threads share, or null where this engine has no SIMD or no threads. */
export const sharedMemory = (bytes: number): SharableMemory | null =>
  typeof SharedArrayBuffer === 'undefined' ? null : memoryOf(bytes, true);

/** The kernels on a memory of `sharedMemory`. */
export const kernelsOnShared = (memory: SharableMemory): KernelMemory | null => kernelsOn(memory, true);

function memoryOf(bytes: number, shared: boolean): SharableMemory | null {
  if (!wasm || !compiledKernels(shared)) return null;
  return new wasm.Memory({ initial: Math.ceil(bytes / PAGE_BYTES), maximum: MOST_PAGES, shared });
}

function kernelsOn(memory: SharableMemory, shared: boolean): KernelMemory | null {
  const module = compiledKernels(shared);
  if (!module || !wasm) return null;
  const instance = new wasm.Instance(module, { env: { memory } });
  return { kernels: instance.exports as KernelFunctions, buffer: memory.buffer };
}

/** Gives out addresses one after the other, each at a multiple of 64 and followed by 64 bytes that kernels may read. */
export function layOut(): { take(bytes: number): number; readonly bytes: number } {
  let next = 64;
  return {
    take(bytes) {
      const at = next;
      next += Math.ceil(bytes / 64) * 64 + 64;
      return at;
    },
    get bytes() {
      return next;
    },
  };
}
