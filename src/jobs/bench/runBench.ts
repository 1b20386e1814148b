import { mkdir } from 'node:fs/promises';
import { join } from 'node:path';
import { openBench } from '../../recording/openBench.ts';
import { readRig } from '../../recording/readRig.ts';
import { writeFileAtomically } from '../../recording/writeFileAtomically.ts';
import type { RigCalibration } from '../../rig/calibrateRig.ts';
import { calibrateStreams, type RunTiming } from '../../rig/calibrateStreams.ts';
import { type ComparisonOutcome, compareRegistrations } from '../../rig/compareRegistrations.ts';
import type { LeftOutFrame } from '../../rig/fitRig.ts';
import { buildLookUpTable, TABLE_CHANNELS, type TableDirection } from '../../rig/lookUpTable.ts';
import { nominalRegistration } from '../../rig/nominalRegistration.ts';
import { openCvYaml } from '../../rig/openCvYaml.ts';
import type { Registration } from '../../rig/Registration.ts';
import { parseRegistration, type RegistrationDocument, serialiseRegistration } from '../../rig/registrationFile.ts';
import { SOFTWARE } from '../software.ts';
import { type CertificateContent, certificateHtml } from './certificate.ts';
import { certificatePdf } from './certificatePdf.ts';
import { checkSameRig } from './checkSameRig.ts';
import { floatTiff } from './floatTiff.ts';
import { npyFile } from './npyFile.ts';
import { type BenchProgress, observeBench } from './observeBench.ts';
import { RESIDUALS_FILE, residualsOf } from './residualsFile.ts';
import { judge, type Verdict } from './verdict.ts';
import { readRegistrationOf } from './verifyBench.ts';

export interface BenchOptions {
  readonly onProgress?: (progress: BenchProgress) => void;
  /** What the user asks of the mapping, colour px, 1 sigma. */
  readonly tolerancePx: number;
  /** The registration of this rig before, to be told whether it has moved. */
  readonly lastFile?: string;
}

export type BenchOutcome =
  | {
      readonly kind: 'registered';
      readonly registration: Registration;
      readonly document: RegistrationDocument;
      readonly calibration: RigCalibration;
      readonly verdict: Verdict;
      /** Against the registration before; null where none was given. */
      readonly comparison: ComparisonOutcome | null;
      readonly lastHash: string | null;
      /** Paths of the files written. */
      readonly files: readonly string[];
    }
  | {
      readonly kind: 'refused';
      readonly because: string;
      /** What to record to cure it. */
      readonly record: string;
      readonly leftOut: readonly LeftOutFrame[];
    };

/**
 * One bench run from its files to `registration.json`, look-up tables (`.npy` and float TIFF), OpenCV YAML and
 * the certificate (HTML and PDF) in `outFolder`. The same input gives the same bytes.
 * @throws InputError for input that cannot be read, and where the run was recorded with another rig
 */
export async function runBench(
  folder: string,
  rigFile: string,
  outFolder: string,
  { onProgress = () => undefined, tolerancePx, lastFile }: BenchOptions,
): Promise<BenchOutcome> {
  const { rig, hash: rigHash } = await readRig(rigFile);
  // Read before the long work: a wrong name is told at once.
  const last = lastFile === undefined ? null : await readRegistrationOf(rig.id, lastFile);
  const bench = await openBench(folder);
  const { description } = bench;
  checkSameRig(description, rig, folder);
  const observed = await observeBench(bench, rig, onProgress);
  onProgress({ stage: 'fit', done: 0, of: 1 });
  const timed = calibrateStreams(rig, observed.streams);
  const calibration = timed.outcome;
  const leftOut = [...observed.leftOut, ...timed.leftOut, ...calibration.leftOut];
  if (calibration.kind === 'refused') return { ...calibration, leftOut };
  onProgress({ stage: 'files', done: 0, of: 1 });
  const { registration: fitted, ladder, statistics } = calibration;
  const document: RegistrationDocument = {
    format: 'corposant-registration',
    version: 1,
    rigId: rig.id,
    model: {
      ...fitted.model,
      colourFromUv: {
        rotation: [...fitted.model.colourFromUv.rotation],
        translation: [...fitted.model.colourFromUv.translation],
      },
      residualField: [...fitted.model.residualField],
    },
    covariance: Array.from(fitted.covariance),
    support: { ...fitted.support, uvHullPx: fitted.support.uvHullPx.map(([u, v]): [number, number] => [u, v]) },
    ladder: { chosen: ladder.chosen, foldedBy: ladder.foldedBy, rows: [...ladder.rows] },
    planeModels: ladder.planeModels.map((m) => ({
      kind: m.kind,
      coefficients: [...m.coefficients],
      scale: { centrePx: [...m.scale.centrePx], halfWidthPx: m.scale.halfWidthPx },
    })),
    statistics: {
      heldOutRmsPx: fitted.heldOutRmsPx,
      noiseFloorPx: statistics.noiseFloorPx,
      statedNoiseFloorPx: statistics.statedNoiseFloorPx,
      uvRmsPx: statistics.uvRmsPx,
      colourRmsPx: statistics.colourRmsPx,
      sigmaFactors: statistics.sigmaFactors,
      bySweep: [...statistics.bySweep],
      framesUsed: calibration.framesUsed,
      correspondences: calibration.correspondences.length,
      leftOut: counted(leftOut),
      outliers: [...calibration.outliers],
      clock: clockOf(timed.timing),
      frameFaults: [...timed.timing.faults],
      rails: [...calibration.rails],
      offsets: calibration.offsets.map((o) => ({
        ...o,
        statedMm: [...o.statedMm],
        fromRunMm: o.fromRunMm && [...o.fromRunMm],
        fromRunSigmaMm: o.fromRunSigmaMm && [...o.fromRunSigmaMm],
        sigmasApart: o.sigmasApart && [...o.sigmasApart],
        usedMm: [...o.usedMm],
      })),
    },
    weaknesses: [...calibration.weaknesses],
    validity: {
      recordedUtc: description.epoch.utc,
      temperatureC: description.conditions?.temperatureC ?? null,
    },
    provenance: {
      software: SOFTWARE,
      benchName: description.name,
      benchHash: bench.contentHash,
      rigHash,
    },
  };
  const text = serialiseRegistration(document);
  const registrationFile = join(outFolder, 'registration.json');
  const { registration } = parseRegistration(text, registrationFile);
  const verdict = judge(calibration, registration, tolerancePx);
  await mkdir(outFolder, { recursive: true });
  const files: string[] = [];
  const write = async (name: string, content: string | Uint8Array): Promise<void> => {
    const file = join(outFolder, name);
    await writeFileAtomically(file, content);
    files.push(file);
  };
  await write('registration.json', text);
  for (const [direction, name] of [
    ['colour from uv', 'lut-colour-from-uv'],
    ['uv from colour', 'lut-uv-from-colour'],
  ] as const satisfies readonly (readonly [TableDirection, string])[]) {
    const table = buildLookUpTable(registration.model, direction, registration.support.nearestM);
    await write(`${name}.npy`, npyFile(table.data, [table.rows, table.columns, TABLE_CHANNELS]));
    await write(`${name}.tif`, floatTiff(table.data, table.columns, table.rows, TABLE_CHANNELS));
    const { data: _, ...about } = table;
    await write(`${name}.json`, `${JSON.stringify(about, null, 1)}\n`);
  }
  await write('opencv-stereo.yml', openCvYaml(registration.model));
  const residuals = residualsOf(calibration, nominalRegistration(rig).model, {
    sweeps: description.sweeps.map(({ name }) => name),
    marks: description.target.marks.map(({ id }) => id),
  });
  await write(RESIDUALS_FILE, `${JSON.stringify(residuals)}\n`);
  const comparison = last && compareRegistrations(registration, last);
  const content: CertificateContent = {
    calibration,
    document,
    registration,
    nominal: nominalRegistration(rig).model,
    verdict,
    comparison: last && comparison ? { ...comparison, lastHash: last.hash } : null,
    frames: { uv: observed.uvFrames, colour: observed.colourFrames },
  };
  await write('certificate.html', certificateHtml(content));
  await write('certificate.pdf', await certificatePdf(content));
  return {
    kind: 'registered',
    registration,
    document,
    calibration,
    verdict,
    comparison,
    lastHash: last?.hash ?? null,
    files,
  };
}

function clockOf({ clock, applied }: RunTiming): RegistrationDocument['statistics']['clock'] {
  if (clock.kind === 'refused') return null;
  const { kind: _, ...known } = clock;
  return { ...known, applied };
}

/** How many frames each reason left out; counts of spots in a reason are not told apart. */
function counted(leftOut: readonly LeftOutFrame[]): { because: string; frames: number }[] {
  const counts = new Map<string, number>();
  for (const { because } of leftOut) {
    const reason = because.replace(/ \(\d+ \w+\)$/, '');
    counts.set(reason, (counts.get(reason) ?? 0) + 1);
  }
  return [...counts].map(([because, frames]) => ({ because, frames })).sort((a, b) => b.frames - a.frames);
}
