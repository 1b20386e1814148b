import { execFile } from 'node:child_process';
import { fileURLToPath } from 'node:url';
import { type Command, InvalidArgumentError } from 'commander';
import { InputError } from '../../input/InputError.ts';
import type { DeskOptions } from '../../server/DeskOptions.ts';
import { openDesk } from '../../server/openDesk.ts';
import { runVerb } from '../runVerb.ts';

/** The desk as it was built, beside the compiled command. */
const BUILT_DESK = fileURLToPath(new URL('../../../dist/desk', import.meta.url));

const several = (path: string, before: string[] | undefined): string[] => [...(before ?? []), path];

export function deskVerb(program: Command): void {
  program
    .command('desk')
    .description('look at a campaign and decide, in the browser; nothing leaves this machine')
    .argument('<campaign>', 'campaign file (GeoPackage)')
    .option('--flight <path>', 'recording of a flight: folder or MCAP file (again for each)', several)
    .option('--bench <folder>', 'bench run (again for each)', several)
    .option('--earlier <file>', 'campaign of an earlier year, to compare with (again for each)', several)
    .option('--rig <file>', 'rig.json: needed to lay ultraviolet over colour, to plan and to inspect')
    .option('--registration <file>', 'registration.json of a bench; without it, nominal values serve')
    .option('--previous-registration <file>', 'an earlier one, to compare with')
    .option('--mounting <file>', "mounting.json; without it, the rig's own values")
    .option('--line <file>', 'line.json, for inspections started from the desk')
    .option('--tiles <file>', 'local map tiles (PMTiles)')
    .option('--port <number>', 'port to listen on', port, 4460)
    .option('--host <address>', 'other than this machine alone: then --token, --cert and --key are needed', '127.0.0.1')
    .option('--token <text>', 'instead of one made at every start')
    .option('--cert <file>', 'TLS certificate (PEM)')
    .option('--key <file>', 'its private key (PEM)')
    .option('--open', 'open the browser')
    .option('--json', 'print the address as JSON')
    .option('--quiet', 'print no more than the address')
    .action((campaign: string, options) =>
      runVerb(options, async (watch) => {
        if ((options.cert === undefined) !== (options.key === undefined))
          throw new InputError({
            file: 'command line',
            field: options.cert === undefined ? 'cert' : 'key',
            found: 'nothing',
            expected: '--cert and --key together',
            todo: 'Give both or neither.',
          });
        const desk = await openDesk(deskOptions(campaign, options), (fault) =>
          process.stderr.write(`${fault instanceof Error ? (fault.stack ?? fault.message) : String(fault)}\n`),
        );
        const { address, origin, token } = desk;
        process.stdout.write(options.json ? `${JSON.stringify({ address, origin, token })}\n` : `${address}\n`);
        if (!options.quiet)
          watch.note('Open this address to look and decide; without its key the desk is for reading. Ctrl-C ends it.');
        if (options.open) openBrowser(address);
        await stopped(watch.signal!);
        await desk.close();
        return { text: '', json: null, silent: true };
      }),
    );
}

function port(text: string): number {
  const value = Number(text);
  if (!(Number.isInteger(value) && value >= 0 && value <= 65_535))
    throw new InvalidArgumentError('expected a port, 0 to 65535 (0: a free one)');
  return value;
}

const deskOptions = (campaign: string, options: Record<string, never>): DeskOptions => ({
  campaignFile: campaign,
  flightPaths: options.flight ?? [],
  benchPaths: options.bench ?? [],
  earlierCampaignFiles: options.earlier ?? [],
  rigFile: options.rig ?? null,
  registrationFile: options.registration ?? null,
  previousRegistrationFile: options.previousRegistration ?? null,
  mountingFile: options.mounting ?? null,
  lineFile: options.line ?? null,
  tilesFile: options.tiles ?? null,
  deskFolder: BUILT_DESK,
  host: options.host,
  port: options.port,
  token: options.token ?? null,
  tls: options.cert && options.key ? { certFile: options.cert, keyFile: options.key } : null,
  command: [process.execPath, ...process.execArgv, process.argv[1]],
});

const stopped = (signal: AbortSignal): Promise<void> =>
  new Promise((resolve) => {
    if (signal.aborted) resolve();
    else signal.addEventListener('abort', () => resolve(), { once: true });
  });

/** Fails in silence: the address is printed anyhow. */
function openBrowser(address: string): void {
  const [program, ...before] =
    process.platform === 'darwin' ? ['open'] : process.platform === 'win32' ? ['explorer.exe'] : ['xdg-open'];
  execFile(program, [...before, address], () => undefined);
}
