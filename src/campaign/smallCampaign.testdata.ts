import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { onTestFinished } from 'vitest';
import type { LineModel } from '../line/LineModel.ts';
import type { InspectionResult } from './CampaignStore.ts';
import type { DischargeRecord, FindingRecord, Llh, Provenance } from './records.ts';

export function temporaryFolder(): string {
  const folder = mkdtempSync(join(tmpdir(), 'corposant-'));
  onTestFinished(() => rmSync(folder, { recursive: true, force: true }));
  return folder;
}

export const ORIGIN: Llh = [-3.9012345678901235, 57.2 + 1 / 3, 212.75];

export const LINE: LineModel = {
  name: 'Tern Reach',
  owner: 'Tern Reach Grid',
  voltageKv: 275,
  structures: [
    { id: 'T1', kind: 'tension', footEnuM: [0, 0, -0.25], heightM: 42.5, sigmaM: 0.1 },
    { id: 'T2', kind: 'suspension', footEnuM: [251.3, 118.7, 3 + 1 / 7], heightM: 44.25, sigmaM: 0.2 },
  ],
  components: [
    {
      id: 'T1-A-string',
      kind: 'insulator string',
      structureIds: ['T1'],
      circuit: '1',
      phase: 'A',
      axisEnuM: [
        [1.5, 2.25, 30.125],
        [3.75, 4.5, 29.875],
      ],
      radiusM: 0.14,
      sigmaM: 0.15,
      discs: 16,
      bundle: null,
    },
    {
      id: 'T2-A-clamp',
      kind: 'clamp',
      structureIds: ['T2'],
      circuit: '1',
      phase: 'A',
      axisEnuM: [[250.1, 120.2, 31.4]],
      radiusM: 0.1,
      sigmaM: 0.15,
      discs: 0,
      bundle: null,
    },
    {
      id: 'S1-A',
      kind: 'conductor',
      structureIds: ['T1', 'T2'],
      circuit: '1',
      phase: 'A',
      axisEnuM: [
        [3.75, 4.5, 29.875],
        [125.3, 61.7, 24.9],
        [250.1, 120.2, 31.4],
      ],
      radiusM: 0.25,
      sigmaM: 0.3,
      discs: 0,
      bundle: { count: 2, spacingM: 0.4, radiusM: 0.0143 },
    },
    {
      id: 'S1-E',
      kind: 'earth wire',
      structureIds: ['T1', 'T2'],
      circuit: '',
      phase: '',
      axisEnuM: [
        [0, 0, 42],
        [251.3, 118.7, 47],
      ],
      radiusM: 0.008,
      sigmaM: 0.3,
      discs: 0,
      bundle: null,
    },
  ],
};

export const ABOUT = { name: 'Spring 2026', originLlh: ORIGIN, line: LINE, lineHash: 'ab'.repeat(32) };

const provenance: Provenance = {
  software: 'corposant 0.1.0',
  registrationHash: '11'.repeat(32),
  rigHash: '22'.repeat(32),
  lineHash: ABOUT.lineHash,
  flightHash: '33'.repeat(32),
  parametersHash: '44'.repeat(32),
};

const discharge = (id: string, component: string, k: number): DischargeRecord => ({
  id,
  positionLlh: [-3.9 + k * 1e-4 + 1e-13, 57.2 + k * 1.7e-4, 240.1 + k / 3],
  positionEnuM: [3.1 * k, 4.7 * k, 29.3 + k / 9],
  covarianceEnuM2: [0.04 * k, 0.001, 0.002, 0.001, 0.09, 0.003, 0.002, 0.003, 0.16],
  systematicCovarianceEnuM2: [0.01, 0, 0, 0, 0.02, 0, 0, 0, 0.03],
  rays: 40 + k,
  passes: 2,
  normalisedRms: 1.04,
  nearestRangeM: 31.7 + k,
  crossingDeg: 22.5,
  heldByLine: k === 2,
  rate: {
    rateHz: 5.25e9 * k,
    countingInterval: { lower: 4.1e9, upper: 6.6e9 },
    interval: { lower: 2.2e9 * k, upper: 9.1e9 * k },
    events: 187.25,
    overdispersion: 1.3,
    bandNm: [240, 280],
    budget: [{ name: 'range', relativeSigma: 0.02 }],
    notes: [],
  },
  attribution: {
    candidates: [
      { componentId: component, probability: 0.91, distanceM: 0.12, along: 0.4, disc: 7 },
      { componentId: null, probability: 0.0625, distanceM: 0, along: 0, disc: null },
      { componentId: 'S1-A', probability: 0.025, distanceM: 0.6, along: 0.01, disc: null },
    ],
    restProbability: 0.0025,
    advice: 'A pass from the other side would settle it.',
  },
});

const finding = (id: string, componentId: string): FindingRecord => ({
  id,
  componentId,
  componentProbability: 0.91,
  grade: {
    priority: 'plan soon',
    rule: 'string-unexpected',
    advice: 'Look at the string from close by.',
    expectedness: 'unexpected',
    reasoning: 'Inception lies 30 % above the operating gradient.',
  },
  decision: 'open',
  comment: '',
});

/** A result with everything in it; numbers all differ, so that columns changed over show. */
export function resultOf(
  flight: string,
  about: { ids?: readonly [string, string]; endUtc?: string } = {},
): InspectionResult {
  const [a, b] = about.ids ?? [`${flight}-D1`, `${flight}-D2`];
  return {
    flight: {
      name: flight,
      startUtc: '2026-05-12T06:30:00.123456Z',
      endUtc: about.endUtc ?? '2026-05-12T06:41:17.5Z',
      rigId: 'heron-1',
      conditions: {
        temperatureC: 11,
        pressureHPa: 1004,
        relativeHumidityPct: 70,
        mainsHz: 50,
        weather: 'dry',
        sun: 'clear',
      },
      uvFrames: 33_875,
      colourFrames: 677,
      photonEvents: 5_000_000_123,
      leftOut: { 'hot pixel': 41, afterglow: 977 },
      trackLlh: [
        [-3.9, 57.2, 260],
        [-3.899, 57.2003, 261.5],
        [-3.898, 57.2001, 259.75],
      ],
      falseAlarmsPerHourAsked: 1,
      quality: { 'largest gap': '0.04 s', 'boresight residual': 0.37 },
      provenance,
    },
    discharges: [discharge(a, 'T1-A-string', 1), discharge(b, 'T2-A-clamp', 2)],
    sightings: [
      {
        id: `${flight}-S1`,
        flight,
        dischargeId: a,
        fromUtc: '2026-05-12T06:31:00.02Z',
        toUtc: '2026-05-12T06:31:09.4Z',
        framesInView: 451,
        events: 188,
        logLikelihoodRatio: 512.0625,
        falseAlarmsPerHour: 1e-200,
        suspicions: [],
        seedLlh: [-3.9001, 57.2001, 241],
        note: '',
      },
      {
        id: `${flight}-S2`,
        flight,
        dischargeId: null,
        fromUtc: '2026-05-12T06:33:00Z',
        toUtc: '2026-05-12T06:33:01Z',
        framesInView: 52,
        events: 9,
        logLikelihoodRatio: 21.5,
        falseAlarmsPerHour: 0.3,
        suspicions: ['moves in space', 'sun glint'],
        seedLlh: [-3.9002, 57.2002, 244],
        note: '3.2 m/s',
      },
    ],
    findings: [finding(a, 'T1-A-string'), finding(b, 'T2-A-clamp')],
    evidence: [
      {
        findingId: a,
        flight,
        utc: '2026-05-12T06:31:04.02Z',
        colourFrame: 241,
        rangeM: 32.5,
        colourJpeg: Uint8Array.from({ length: 3000 }, (_, i) => (i * 89) % 256),
        cropLeftPx: 310,
        cropTopPx: 207,
        cropWidthPx: 400,
        cropHeightPx: 300,
        eventsColourPx: [411.25, 322.5, 409 + 1 / 3, 320.1],
        dischargeColourPx: [410.2, 321.3],
        overlaySigmaPx: 0.42,
        accumulatedS: 1.5,
        cameraLlh: [-3.9003, 57.1999, 262],
        viewAzimuthDeg: 38.5,
        viewElevationDeg: -31.25,
      },
    ],
    coverage: [
      { componentId: 'T1-A-string', state: 'finding', framesInView: 451, nearestRangeM: 31.7, limitHz: 4.2e8 },
      {
        componentId: 'S1-A',
        state: 'clear',
        framesInView: 777,
        nearestRangeM: 28.2,
        limitHz: 6.1e8,
        view: {
          coveredShare: 1,
          passes: 2,
          azimuthsDeg: [17.5, 198.1],
          elevationsDeg: [-3.5, 2],
          farthestRangeM: 61.25,
          exposureS: 14.25,
          smearPx: 3.75,
          hiddenShare: 0.125,
          hiddenBy: 'T1',
          flyAgain: null,
        },
      },
      { componentId: 'S1-E', state: 'not seen', framesInView: 0, nearestRangeM: null, limitHz: null },
    ],
  };
}
