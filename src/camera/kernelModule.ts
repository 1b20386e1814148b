import { KERNEL_BINARY_BASE64 } from './kernelBinary.ts';

/** The part of the standard WebAssembly interface that is used here; the same in Node, browsers and workers. */
interface Wasm {
  validate(bytes: Uint8Array): boolean;
  Module: new (bytes: Uint8Array) => object;
  Memory: new (size: { initial: number }) => { readonly buffer: ArrayBuffer };
  Instance: new (module: object, imports: object) => { readonly exports: unknown };
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
  offsets: number,
  across: number,
  down: number,
  count: number,
) => void;

const wasm = (globalThis as unknown as { WebAssembly?: Wasm }).WebAssembly;
/** Compiled once, when first asked for; null where this engine has no WebAssembly with SIMD. */
let compiled: object | null | undefined;

function compiledKernels(): object | null {
  if (compiled === undefined) {
    const bytes = Uint8Array.from(atob(KERNEL_BINARY_BASE64), (char) => char.charCodeAt(0));
    compiled = wasm?.validate(bytes) ? new wasm.Module(bytes) : null;
  }
  return compiled;
}

/** Whether the kernels run on this engine; where not, their twins in TypeScript give the same results. */
export const hasKernels = (): boolean => compiledKernels() !== null;

export interface KernelMemory {
  readonly kernels: KernelFunctions;
  readonly buffer: ArrayBuffer;
}

/** The kernels on a memory of their own, of at least `bytes` zeros, or null where this engine has no SIMD. */
export function kernelMemory(bytes: number): KernelMemory | null {
  const module = compiledKernels();
  if (!module || !wasm) return null;
  const memory = new wasm.Memory({ initial: Math.ceil(bytes / 65536) });
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
