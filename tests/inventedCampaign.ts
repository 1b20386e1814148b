import { execFile } from 'node:child_process';
import { existsSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';

const root = path.resolve(path.dirname(fileURLToPath(import.meta.url)), '..');
export const bin = path.join(root, 'bin', 'corposant.js');
const run = promisify(execFile);

/** Runs the built command and reads what it prints for machines; npm test builds it first. */
export const corposant = async (...words: string[]) =>
  JSON.parse((await run(process.execPath, [bin, ...words, '--json', '--quiet'], { maxBuffer: 1 << 26 })).stdout);

/**
 * Where the world of one run of the tests lies, by the number of the process that runs them all. Whoever works on one test
 * names a folder in CORPOSANT_TEST_WORLD; it is then kept from run to run.
 */
export const worldFolder = (runner: number): string =>
  process.env.CORPOSANT_TEST_WORLD ?? path.join(tmpdir(), `corposant-invented-${runner}`);

export interface InventedCampaign {
  readonly at: (...parts: string[]) => string;
  /** What `corposant bench --json` said. */
  readonly bench: {
    statistics: { heldOutRmsPx: number; noiseFloorPx: number };
    ladder: { rows: { kind: string; heldOutRmsPx: number }[] };
  };
  readonly inspectWords: (campaign: string) => string[];
}

/**
 * The invented world of seed 5 with its bench and its inspected campaign, made by the command once in a run of the tests:
 * whichever file asks first makes it, the others wait. It is for looking at: whoever writes copies first.
 */
export async function inventedCampaign(): Promise<InventedCampaign> {
  // Files run in children of the one process, so their parent is what they share.
  const folder = worldFolder(process.ppid);
  const at = (...parts: string[]): string => path.join(folder, ...parts);
  const inspectWords = (campaign: string): string[] => [
    ...['inspect', at('world', 'flight'), '--campaign', campaign, '--rig', at('world', 'rig.json')],
    ...['--line', at('world', 'line.json'), '--registration', at('bench', 'registration.json')],
  ];
  try {
    mkdirSync(folder);
  } catch {
    // Another file makes it, or an earlier run has.
    while (!existsSync(at('done.json'))) {
      if (existsSync(at('failed.txt'))) throw new Error(readFileSync(at('failed.txt'), 'utf8'));
      await new Promise((resolve) => setTimeout(resolve, 200));
    }
    return { at, bench: JSON.parse(readFileSync(at('done.json'), 'utf8')), inspectWords };
  }
  try {
    await corposant('invent', at('world'), '--seed', '5', '--colour-rate', '0.5');
    const bench = await corposant(
      'bench',
      at('world', 'bench'),
      '--rig',
      at('world', 'rig.json'),
      '--out',
      at('bench'),
    );
    await corposant(...inspectWords(at('campaign.gpkg')));
    writeFileSync(at('done.json'), JSON.stringify(bench));
    return { at, bench, inspectWords };
  } catch (error) {
    writeFileSync(at('failed.txt'), String(error));
    throw error;
  }
}
