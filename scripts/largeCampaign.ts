// node --import tsx scripts/largeCampaign.ts OUT.gpkg [findings] [sightings]: a campaign as large as a long season, for measuring and for
// tests in a browser. Places, strengths, doubts and pictures (two a finding, as grainy as a photograph) are drawn from seed 3; nothing of
// it was ever seen.
import { rmSync } from 'node:fs';
import sharp from 'sharp';
import type { InspectionResult } from '../src/campaign/CampaignStore.ts';
import { openGeoPackageCampaign } from '../src/campaign/openGeoPackageCampaign.ts';
import type { DischargeRecord, EvidenceRecord, FindingRecord, SightingRecord } from '../src/campaign/records.ts';
import { localFrameAt } from '../src/earth/LocalFrame.ts';
import type { LineComponent, LineModel } from '../src/line/LineModel.ts';
import { randomFrom } from '../src/maths/random.ts';
import type { Vec3 } from '../src/maths/vec3.ts';
import { SUSPICIONS } from '../src/sighting/Sighting.ts';

const [out, findingCount = '500', sightingCount = '50000'] = process.argv.slice(2);
if (out === undefined) throw new Error('node --import tsx scripts/largeCampaign.ts OUT.gpkg [findings] [sightings]');
const ORIGIN = [-31.7963, 44.3027, 141] as const;
const SPAN_M = 320;
const TOWERS = 160;
const FLIGHT = 'long season';
const frame = localFrameAt(ORIGIN);
const random = randomFrom(3);
const pick = <T>(list: readonly T[]): T => list[Math.floor(random.uniform() * list.length)];

const footOf = (i: number): Vec3 => [i * SPAN_M * 0.94, i * SPAN_M * 0.34 + 90 * Math.sin(i / 7), 6 * Math.sin(i / 5)];
const structures = Array.from({ length: TOWERS }, (_, i) => ({
  id: `V${i + 1}`,
  kind: i % 9 === 0 ? ('tension' as const) : ('suspension' as const),
  footEnuM: footOf(i),
  heightM: 42,
  sigmaM: 0.1,
}));
const components: LineComponent[] = structures.flatMap(({ id, footEnuM: [e, n, u] }, i) =>
  ['A', 'B', 'C'].flatMap((phase, k): LineComponent[] => {
    const common = { circuit: 'north', phase, sigmaM: 0.12, discs: 0, bundle: null } as const;
    const tip: Vec3 = [e - 3 - 2 * k, n + 5, u + 26 + 5 * k];
    const wireAt: Vec3 = [tip[0], tip[1], tip[2] - 2.6];
    const next = footOf(i + 1);
    const wire = Array.from({ length: 9 }, (_, j): Vec3 => {
      const t = j / 8;
      return [
        wireAt[0] + t * (next[0] - e),
        wireAt[1] + t * (next[1] - n),
        wireAt[2] + t * (next[2] - u) - 32 * t * (1 - t),
      ];
    });
    return [
      {
        ...common,
        id: `${id}-${phase}-string`,
        kind: 'insulator string',
        structureIds: [id],
        axisEnuM: [tip, wireAt],
        radiusM: 0.13,
        discs: 15,
      },
      { ...common, id: `${id}-${phase}-clamp`, kind: 'clamp', structureIds: [id], axisEnuM: [wireAt], radiusM: 0.1 },
      ...(i + 1 < TOWERS
        ? [
            {
              ...common,
              id: `${id}-V${i + 2}-${phase}`,
              kind: 'conductor' as const,
              structureIds: [id, `V${i + 2}`],
              axisEnuM: wire,
              radiusM: 0.02,
            },
          ]
        : []),
    ];
  }),
);
const line: LineModel = { name: 'Long reach', owner: 'Vessary Island Grid', voltageKv: 220, structures, components };
const hardware = components.filter(({ kind }) => kind !== 'conductor');

const START_MS = Date.UTC(2026, 4, 12, 6);
const utc = (seconds: number): string => new Date(START_MS + Math.round(1000 * seconds)).toISOString();
const discharges: DischargeRecord[] = [];
const findings: FindingRecord[] = [];
for (let i = 0; i < Number(findingCount); i++) {
  const component = pick(hardware);
  const at = component.axisEnuM[component.axisEnuM.length - 1];
  const positionEnuM: Vec3 = [
    at[0] + 0.1 * random.normal(),
    at[1] + 0.1 * random.normal(),
    at[2] + 0.1 * random.normal(),
  ];
  const rateHz = 10 ** (9.5 + 2.5 * random.uniform());
  const probability = 0.5 + 0.499 * random.uniform();
  const id = `d${String(i + 1).padStart(4, '0')}`;
  const interval = { lower: 0.6 * rateHz, upper: 1.6 * rateHz };
  discharges.push({
    id,
    positionEnuM,
    positionLlh: frame.llhFromEnu(positionEnuM),
    covarianceEnuM2: [0.006, 0.001, 0, 0.001, 0.009, 0, 0, 0, 0.004],
    systematicCovarianceEnuM2: [0.004, 0, 0, 0, 0.006, 0, 0, 0, 0.003],
    rays: 60 + Math.floor(400 * random.uniform()),
    passes: 1 + Math.floor(3 * random.uniform()),
    normalisedRms: 1,
    nearestRangeM: 32 + 10 * random.uniform(),
    crossingDeg: 25,
    heldByLine: false,
    rate: {
      rateHz,
      countingInterval: interval,
      interval,
      events: 90,
      overdispersion: 1.2,
      bandNm: [240, 280],
      budget: [{ name: 'range', relativeSigma: 0.02 }],
      notes: [],
    },
    attribution: {
      candidates: [
        { componentId: component.id, probability, distanceM: 0.05, along: 0.5, disc: null },
        { componentId: pick(hardware).id, probability: 1 - probability, distanceM: 0.6, along: 0.5, disc: null },
      ],
      restProbability: 0,
      advice: null,
    },
  });
  findings.push({
    id,
    componentId: component.id,
    componentProbability: probability,
    grade: {
      priority: pick(['act now', 'plan soon', 'next maintenance', 'watch']),
      rule: 'drawn by chance',
      advice: 'None: this campaign is for measuring.',
      expectedness: pick(['unexpected', 'borderline', 'expected']),
      reasoning: 'None: drawn by chance.',
    },
    decision: 'open',
    comment: '',
  });
}
const PICTURE = { width: 800, height: 600 } as const;
const pictures = await Promise.all(
  Array.from({ length: 20 }, () => {
    const grain = Uint8Array.from({ length: 3 * PICTURE.width * PICTURE.height }, () => 255 * random.uniform());
    return sharp(grain, { raw: { ...PICTURE, channels: 3 } })
      .blur(1.5)
      .jpeg({ quality: 90 })
      .toBuffer();
  }),
);
const evidence = discharges.flatMap(({ id, positionEnuM: [e, n, u] }, i) =>
  [-30, 30].map((besideM, k): EvidenceRecord => {
    const [left, top] = [600 + Math.floor(400 * random.uniform()), 500 + Math.floor(400 * random.uniform())];
    const at = [left + PICTURE.width / 2, top + PICTURE.height / 2] as const;
    return {
      findingId: id,
      flight: FLIGHT,
      utc: utc(3 * i + k),
      colourFrame: 6 * i + k,
      rangeM: 36 + 8 * random.uniform(),
      colourJpeg: pictures[(2 * i + k) % pictures.length],
      cropLeftPx: left,
      cropTopPx: top,
      cropWidthPx: PICTURE.width,
      cropHeightPx: PICTURE.height,
      eventsColourPx: Array.from({ length: 600 }, (_, j) => at[j % 2] + 6 * random.normal()),
      dischargeColourPx: at,
      overlaySigmaPx: 0.2,
      colourFocalPx: 2400,
      accumulatedS: 4,
      cameraLlh: frame.llhFromEnu([e + 5, n + besideM, u + 12]),
      viewAzimuthDeg: besideM < 0 ? 0 : 180,
      viewElevationDeg: -20,
    };
  }),
);
const sightings = Array.from({ length: Number(sightingCount) }, (_, i): SightingRecord => {
  const of = i < 2 * discharges.length ? discharges[i % discharges.length] : null;
  const tower = footOf(TOWERS * random.uniform());
  const seed: Vec3 = of?.positionEnuM ?? [
    tower[0] + 40 * random.normal(),
    tower[1] + 40 * random.normal(),
    tower[2] + 20 + 10 * random.normal(),
  ];
  const fromS = 3 * i;
  return {
    id: `s${String(i + 1).padStart(6, '0')}`,
    flight: FLIGHT,
    dischargeId: of?.id ?? null,
    fromUtc: utc(fromS),
    toUtc: utc(fromS + 2),
    framesInView: 100,
    events: 8 + Math.floor(30 * random.exponential()),
    logLikelihoodRatio: 15 + 20 * random.exponential(),
    falseAlarmsPerHour: 0.5,
    suspicions: of === null ? [pick(SUSPICIONS)] : [],
    seedLlh: frame.llhFromEnu(seed),
    note: '',
  };
});
const hash = '0'.repeat(64);
const result: InspectionResult = {
  flight: {
    name: FLIGHT,
    startUtc: utc(0),
    endUtc: utc(3 * sightings.length),
    rigId: 'petrel-1',
    conditions: { temperatureC: 12, pressureHPa: 1008, relativeHumidityPct: 70, mainsHz: 50, weather: 'dry' },
    uvFrames: 150 * sightings.length,
    colourFrames: 3 * sightings.length,
    photonEvents: 750 * sightings.length,
    leftOut: {},
    trackLlh: structures.map(({ footEnuM: [e, n, u] }) => frame.llhFromEnu([e + 30, n - 30, u + 35])),
    falseAlarmsPerHourAsked: 1,
    quality: {},
    provenance: {
      software: 'drawn by chance',
      registrationHash: hash,
      rigHash: hash,
      lineHash: hash,
      flightHash: hash,
      parametersHash: hash,
    },
  },
  discharges,
  findings,
  sightings,
  evidence,
  coverage: components.map(({ id }) => ({
    componentId: id,
    state: findings.some(({ componentId }) => componentId === id) ? ('finding' as const) : ('clear' as const),
    framesInView: 200,
    nearestRangeM: 35,
    limitHz: 3e9,
  })),
};
rmSync(out, { force: true });
const store = openGeoPackageCampaign(out, { create: true });
store.initialise({ name: 'Long season', originLlh: ORIGIN, line, lineHash: hash });
store.saveInspection(result);
store.close();
process.stdout.write(
  `${out}: ${findings.length} findings, ${sightings.length} sightings, ${components.length} components\n`,
);
