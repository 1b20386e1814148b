// node scripts/build-kernels.mjs: compiles kernels/ and writes the module into src/camera/kernelBinary.ts.
// With --check it writes nothing and fails where the committed module is not what the sources compile to.
import { readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import asc from 'assemblyscript/asc';

const root = path.resolve(path.dirname(fileURLToPath(import.meta.url)), '..');
const target = path.join(root, 'src', 'camera', 'kernelBinary.ts');

/** The generated source file, as `kernels/` compiles now. */
export async function compileKernels() {
  let binary;
  const { error, stderr } = await asc.main(
    [
      'index.ts',
      '--outFile=kernels.wasm',
      '-O3',
      '--enable=simd',
      '--runtime=stub',
      '--noAssert',
      '--importMemory',
      '--enable=threads',
      '--sharedMemory',
      '--maximumMemory=65536',
      '--initialMemory=1',
    ],
    {
      readFile: (name, folder) => {
        try {
          return readFileSync(path.resolve(root, 'kernels', folder, name), 'utf8');
        } catch {
          return null;
        }
      },
      writeFile: (name, contents) => {
        if (name === 'kernels.wasm') binary = contents;
      },
      listFiles: () => [],
    },
  );
  if (error || !binary) throw new Error(`the kernels do not compile: ${error?.message ?? ''}\n${stderr.toString()}`);
  // Of the import of the memory: the name, the kind, and the flag that makes it a memory for several threads.
  const named = Buffer.from('\x03env\x06memory\x02\x03', 'latin1');
  const flagAt = Buffer.from(binary).indexOf(named) + named.length - 1;
  if (flagAt < named.length) throw new Error('the module imports no shared memory env.memory');
  const base64 = Buffer.from(binary).toString('base64');
  const lines = base64.match(/.{1,116}/g).map((line) => `  '${line}'`);
  return `// Made by scripts/build-kernels.mjs from kernels/; ${binary.length} bytes. Do not edit.
export const KERNEL_BINARY_BASE64 =
${lines.join(' +\n')};
/** Where the byte is that asks for a memory shared between threads: 3; 1 asks for one of a single thread. */
export const SHARED_FLAG_AT = ${flagAt};
`;
}

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  const made = await compileKernels();
  if (process.argv.includes('--check')) {
    if (readFileSync(target, 'utf8') !== made) {
      console.error('src/camera/kernelBinary.ts is not what kernels/ compiles to: run node scripts/build-kernels.mjs');
      process.exit(1);
    }
  } else {
    writeFileSync(target, made);
    console.log(made.split('\n')[0]);
  }
}
