import { stat } from 'node:fs/promises';
import { join } from 'node:path';
import type { GreyFrame } from '../../camera/GreyFrame.ts';
import { InputError } from '../../input/InputError.ts';
import { startPhotonFinder } from '../../photon/photonFinder.ts';
import type { CameraResponse } from '../../photon/response/CameraResponse.ts';
import { measureCameraResponse } from '../../photon/response/measureCameraResponse.ts';
import { type ResponseDocument, responseDocumentOf } from '../../photon/response/responseFile.ts';
import { checkGains } from '../../recording/checkGains.ts';
import { checkRigFits } from '../../recording/checkRigFits.ts';
import { openSeries } from '../../recording/openSeries.ts';
import { readPhotonEvents } from '../../recording/photonEventTable.ts';
import type { RigDescription } from '../../recording/RigDescription.ts';
import { readRig } from '../../recording/readRig.ts';
import { openUvFrames } from '../../recording/uvFrames.ts';
import { writeFileAtomically } from '../../recording/writeFileAtomically.ts';
import { collectEvents } from '../inspect/collectEvents.ts';
import { type InspectableFlight, openAnyFlight } from '../inspect/openAnyFlight.ts';
import type { JobWatch } from '../JobWatch.ts';
import { SOFTWARE } from '../software.ts';
import { seriesStretches } from './seriesStretches.ts';
import { stretchesOf } from './stretchesOf.ts';

export interface ResponseJobOptions {
  readonly rigFile: string;
  readonly outFile: string;
  /** Photon events of the flight, where they are stored already; null: they are found in its frames. */
  readonly eventsFile: string | null;
}

export interface MeasuredResponse {
  readonly source: ResponseDocument['source'];
  readonly response: CameraResponse;
  readonly lampRefused: readonly { readonly gain: number; readonly because: string }[];
  /** null where nothing was measured that could be written. */
  readonly file: string | null;
}

const NOISE_FRAMES = 64;

/** Measures the ultraviolet camera from a gain series, or from the background of a flight, and writes `response.json`. */
export async function measureResponse(
  folder: string,
  options: ResponseJobOptions,
  watch: JobWatch,
): Promise<MeasuredResponse> {
  const { rig, hash: rigHash } = await readRig(options.rigFile);
  const isSeries = await stat(join(folder, 'series.json')).then(
    () => true,
    () => false,
  );
  const measured = isSeries ? await fromSeries(folder, rig, watch) : await fromFlight(folder, rig, options, watch);
  const document = responseDocumentOf(measured.response, {
    rigId: rig.id,
    rigHash,
    source: measured.source,
    software: SOFTWARE,
  });
  if (document) await writeFileAtomically(options.outFile, `${JSON.stringify(document, null, 1)}\n`);
  return { ...measured, file: document ? options.outFile : null };
}

async function fromSeries(
  folder: string,
  rig: RigDescription,
  watch: JobWatch,
): Promise<Omit<MeasuredResponse, 'file'>> {
  const series = await openSeries(folder);
  const file = join(folder, 'series.json');
  checkSeriesRig(rig, series.description, file);
  const found = await seriesStretches(series, rig.cameras.uv, watch);
  return {
    source: { kind: 'series', name: series.description.name, contentHash: series.contentHash },
    response: measureCameraResponse(rig.cameras.uv, found.stretches, found.signals, found.noiseDn),
    lampRefused: found.lampRefused,
  };
}

async function fromFlight(
  path: string,
  rig: RigDescription,
  options: ResponseJobOptions,
  watch: JobWatch,
): Promise<Omit<MeasuredResponse, 'file'>> {
  const flight = await openAnyFlight(path);
  try {
    checkRigFits(rig, flight.description, flight.descriptionFile);
    checkGains(
      flight.uvIndex,
      flight.descriptionFile,
      rig.cameras.uv.gainCurve.map((point) => point.gain),
    );
    const { uv } = rig.cameras;
    const events = options.eventsFile
      ? await readPhotonEvents(options.eventsFile)
      : (await collectEvents(flight, uv, `${options.outFile}.work`, watch)).events;
    return {
      source: { kind: 'flight', name: flight.description.name, contentHash: flight.contentHash },
      response: measureCameraResponse(
        uv,
        stretchesOf(flight.uvIndex, events, () => 'as it came'),
        [],
        await noiseOf(flight, rig),
      ),
      lampRefused: [],
    };
  } finally {
    await flight.close();
  }
}

/** Read noise of a pixel, from the first frames, or as the recorder wrote it down. */
async function noiseOf(flight: InspectableFlight, rig: RigDescription): Promise<number> {
  if (flight.recorded) {
    if (flight.recorded.statistics) return flight.recorded.statistics.meanNoiseDn;
    throw new InputError({
      file: flight.descriptionFile,
      found: 'a recording that was never closed, without the read noise',
      expected: 'what the recorder has learned of the dark level',
      todo: 'Measure a gain series, or another flight.',
    });
  }
  const frames = await openUvFrames(flight.folder, flight.description.streams.uv, flight.uvIndex);
  try {
    const first: GreyFrame[] = [];
    for (let i = 0; i < Math.min(NOISE_FRAMES, frames.count); i++) first.push(await frames.read(i));
    const finder = startPhotonFinder(rig.cameras.uv);
    finder.learnFrom(first);
    return finder.statistics().meanNoiseDn;
  } finally {
    await frames.close();
  }
}

function checkSeriesRig(
  rig: RigDescription,
  description: {
    readonly rigId: string;
    readonly streams: {
      readonly uv: { readonly widthPx: number; readonly heightPx: number; readonly bitDepth: number };
    };
  },
  file: string,
): void {
  const { uv } = description.streams;
  const differs = (['widthPx', 'heightPx', 'bitDepth'] as const).find((field) => uv[field] !== rig.cameras.uv[field]);
  if (description.rigId === rig.id && !differs) return;
  throw new InputError({
    file,
    field: differs ? `streams.uv.${differs}` : 'rigId',
    found: String(differs ? uv[differs] : description.rigId),
    expected: String(differs ? rig.cameras.uv[differs] : rig.id),
    todo: 'Use the rig file of the camera that made this series.',
  });
}
