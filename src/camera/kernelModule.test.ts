import { spawnSync } from 'node:child_process';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { expect, test } from 'vitest';
import { hasKernels, kernelMemory, layOut } from './kernelModule.ts';

const root = path.resolve(path.dirname(fileURLToPath(import.meta.url)), '..', '..');

test('the committed module is what kernels/ compiles to', () => {
  const { status, stderr } = spawnSync(process.execPath, ['scripts/build-kernels.mjs', '--check'], {
    cwd: root,
    encoding: 'utf8',
  });
  expect(stderr).toBe('');
  expect(status).toBe(0);
});

test('each memory of kernels is its own, zero, and as large as was laid out', () => {
  expect(hasKernels()).toBe(true);
  const map = layOut();
  const [first, second] = [map.take(100), map.take(3)];
  expect(second - first).toBeGreaterThanOrEqual(164); // the bytes, and 64 that may be read beyond them
  const [a, b] = [kernelMemory(map.bytes), kernelMemory(map.bytes)];
  new Uint8Array(a!.buffer)[first] = 7;
  expect(new Uint8Array(b!.buffer)[first]).toBe(0);
  expect(a!.buffer.byteLength).toBeGreaterThanOrEqual(map.bytes);
});
