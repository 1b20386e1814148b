import path from 'node:path';
import { fileURLToPath } from 'node:url';
import react from '@vitejs/plugin-react';
import { defineConfig } from 'vite';

const here = path.dirname(fileURLToPath(import.meta.url));

export default defineConfig({
  root: here,
  // Relative addresses: the desk also works behind a path of a team's own front server.
  base: './',
  plugins: [react()],
  // maplibre's worker is an ES module that imports its neighbour.
  worker: { format: 'es' },
  build: {
    outDir: path.join(here, '..', 'dist', 'desk'),
    emptyOutDir: true,
    target: 'es2022',
    // three and maplibre are large by nature; each is loaded by the one view that needs it.
    chunkSizeWarningLimit: 1500,
    reportCompressedSize: false,
    rollupOptions: { checks: { pluginTimings: false } },
  },
  server: { proxy: { '/api': process.env.CORPOSANT_DESK ?? 'http://127.0.0.1:4173' } },
});
