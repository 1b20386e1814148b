#!/usr/bin/env node
import { existsSync } from 'node:fs';

const entry = new URL('../dist/cli/corposant.js', import.meta.url);
if (!existsSync(entry)) {
  console.error('Corposant is not built yet: run `npm ci && npm run build` (or `npm run demo`) first.');
  process.exit(4);
}
await import(entry.href);
