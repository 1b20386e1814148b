import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { dirname, join } from 'node:path';
import { NodeCompiler } from '@myriaddreamin/typst-ts-node-compiler';

const FONT_FILES = ['400Regular/Inter_400Regular.ttf', '600SemiBold/Inter_600SemiBold.ttf'];

/**
 * Sets the pages of `main` (a file inside `workspace`, with all that it refers to) as tagged PDF/A-2a.
 * The fonts are the package's own, so that every machine sets the same lines.
 * @throws Error with the typesetter's own message where the source does not compile: a fault of ours, not of the input
 */
export function typesetPdf(workspace: string, main: string): { pdf: Buffer; pages: number } {
  const fontFolder = dirname(createRequire(import.meta.url).resolve('@expo-google-fonts/inter/package.json'));
  const compiler = NodeCompiler.create({
    workspace,
    fontArgs: [{ fontBlobs: FONT_FILES.map((file) => readFileSync(join(fontFolder, file))) }],
  });
  const result = compiler.compile({ mainFilePath: join(workspace, main) });
  const document = result.result;
  if (result.hasError() || document === null)
    throw new Error(`typesetPdf: ${JSON.stringify(result.takeError()?.shortDiagnostics ?? 'no document')}`);
  const pdf = compiler.pdf(document, { pdfStandard: 'a-2a' });
  const pages = document.numOfPages;
  compiler.evictCache(0);
  return { pdf, pages };
}
