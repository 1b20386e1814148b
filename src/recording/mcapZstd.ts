import zstd from '@foxglove/wasm-zstd';
import type { McapTypes } from '@mcap/core';

// Compiled once for the process; every call before would throw.
await zstd.isLoaded;

/** Level 1: dark frames are noise, and higher levels cost more time than they save space. */
export const compressZstd = (bytes: Uint8Array): Uint8Array => zstd.compress(bytes, 1);

/** For the library's readers. Its own loader brings further codecs, one of which listens for the process's uncaught errors. */
export const DECOMPRESS: McapTypes.DecompressHandlers = {
  zstd: (bytes, size) => zstd.decompress(bytes, Number(size)),
};
