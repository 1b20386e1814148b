import sharp from 'sharp';
import type { CampaignStore } from '../campaign/CampaignStore.ts';
import { findingNumbers } from '../campaign/findingNumbers.ts';
import type {
  CoverageRecord,
  DischargeRecord,
  EvidenceRecord,
  FindingRecord,
  FlightRecord,
  Llh,
  ReviewEntry,
  SightingRecord,
} from '../campaign/records.ts';
import { localFrameAt } from '../earth/LocalFrame.ts';
import { addMat, congruence, diagonal3, type Mat3 } from '../maths/mat3.ts';
import { randomFrom } from '../maths/random.ts';
import { rotationFromYawPitchRoll } from '../maths/rotation.ts';
import { add, distance, subtract, type Vec3 } from '../maths/vec3.ts';
import { ISLAND_ORIGIN, islandGrades, islandLine } from './islandLine.testdata.ts';

export interface IslandOptions {
  /** How many findings, spread over the strings and clamps of the line. */
  readonly findings: number;
  readonly structures: number;
}

const COLOUR_FOCAL_PX = 3200;
const CROP = { widthPx: 520, heightPx: 420, leftPx: 700, topPx: 410 };

export async function islandCampaign(options: IslandOptions = { findings: 8, structures: 7 }): Promise<CampaignStore> {
  const frame = localFrameAt(ISLAND_ORIGIN);
  const line = islandLine(options.structures);
  const random = randomFrom(1905);
  const jpegs = await Promise.all(['clear', 'dull'].map(hardwarePicture));

  const provenance = {
    software: 'corposant 0.1.0',
    registrationHash: '5d0c6f2b9e1748a3c0f6d21b7e94835af1c2073d8b6e4f59a0d7c3e2186b4f95',
    rigHash: 'b7e1f0a2439c5d68e7041b92fa3c86d50e9f7b1a2c4d8360f5e9a7b3c1d2e4f6',
    lineHash: '0f4b8c1d2e3a596877b6c5d4e3f2a1908172635445362718091a2b3c4d5e6f70',
    flightHash: 'c3a9d1e47f6b20589e8d7c6b5a49382716f5e4d3c2b1a0987654321fedcba098',
    parametersHash: '91d2c3b4a5968778695a4b3c2d1e0f9e8d7c6b5a493827160f1e2d3c4b5a6978',
  };
  const first = line.structures[0]!.footEnuM;
  const last = line.structures.at(-1)!.footEnuM;
  const track = (side: number): Llh[] =>
    Array.from({ length: 60 }, (_, k) => {
      const t = side > 0 ? k / 59 : 1 - k / 59;
      const nearest = line.structures[Math.round(t * (line.structures.length - 1))]!.footEnuM;
      const e = first[0] + t * (last[0] - first[0]);
      return frame.llhFromEnu([
        e + 14 * side,
        (nearest[1] + first[1] + t * (last[1] - first[1])) / 2 - 38 * side,
        34 + first[2] + t * (last[2] - first[2]),
      ]);
    });
  const flights: FlightRecord[] = [
    {
      name: 'tarnay-south-side',
      startUtc: '2026-05-12T06:31:07.120Z',
      endUtc: '2026-05-12T06:43:51.880Z',
      rigId: 'rig-petrel-2',
      conditions: {
        temperatureC: 11.4,
        pressureHPa: 1009.6,
        relativeHumidityPct: 86,
        mainsHz: 50,
        weather: 'dry',
        ozonePpb: 38,
        ozoneSigmaPpb: 6,
        sun: 'overcast',
        visibilityKm: 18,
      },
      uvFrames: 38_238,
      colourFrames: 19_119,
      photonEvents: 204_518,
      leftOut: { 'no pose: gap in the trajectory': 212, 'exposure not recorded': 3 },
      trackLlh: track(1),
      falseAlarmsPerHourAsked: 1,
      quality: {
        registrationHeldOutRmsPx: 0.27,
        boresightResidualRmsDeg: 0.011,
        eventsPerFrame: 5.35,
        longestGapMs: 424,
        gnss: 'fixed 99.4 % of the time',
        meanSpeedMps: 7.2,
      },
      provenance,
    },
    {
      name: 'tarnay-north-side',
      startUtc: '2026-05-12T06:52:30.000Z',
      endUtc: '2026-05-12T07:05:02.400Z',
      rigId: 'rig-petrel-2',
      conditions: {
        temperatureC: 12.1,
        pressureHPa: 1009.4,
        relativeHumidityPct: 83,
        mainsHz: 50,
        weather: 'dry',
        sun: 'clear',
      },
      uvFrames: 37_620,
      colourFrames: 18_810,
      photonEvents: 241_377,
      leftOut: {},
      trackLlh: track(-1),
      falseAlarmsPerHourAsked: 1,
      quality: {
        registrationHeldOutRmsPx: 0.27,
        boresightResidualRmsDeg: 0.013,
        eventsPerFrame: 6.42,
        longestGapMs: 20,
        gnss: 'fixed throughout',
        meanSpeedMps: 7.4,
      },
      provenance: { ...provenance, flightHash: 'd4bae2f58f7c31690f9e8d7c6b5a5a49383827160504f3e2d1c0bfae9d8c7b6a' },
    },
  ];

  const hosts = line.components.filter(
    ({ kind }) => kind === 'insulator string' || kind === 'clamp' || kind === 'spacer',
  );
  const grades = islandGrades();
  const findings: FindingRecord[] = [];
  const discharges: DischargeRecord[] = [];
  const sightings: SightingRecord[] = [];
  const evidenceOf = new Map<string, EvidenceRecord[]>();
  const reviewLog: ReviewEntry[] = [];
  for (let k = 0; k < options.findings; k++) {
    const id = `d-${String(k + 1).padStart(4, '0')}`;
    const host = hosts[(7 + k * 11) % hosts.length]!;
    const neighbour = line.components.find(
      (c) => c.id !== host.id && c.structureIds[0] === host.structureIds[0] && c.phase === host.phase,
    )!;
    const [a, b] = [host.axisEnuM[0]!, host.axisEnuM.at(-1)!];
    const along = 0.82;
    const positionEnuM: Vec3 = [
      a[0] + along * (b[0] - a[0]),
      a[1] + along * (b[1] - a[1]),
      a[2] + along * (b[2] - a[2]),
    ];
    const turn = rotationFromYawPitchRoll(1.1 + 0.05 * k, -0.12, 0);
    const randomPart = congruence(turn, diagonal3(0.05 ** 2, 0.012 ** 2, 0.014 ** 2));
    const systematic: Mat3 = diagonal3(0.021 ** 2, 0.023 ** 2, 0.032 ** 2);
    const rateHz = 3.1e4 * 2.4 ** ((k * 5) % 7);
    const nobody = k % 8 === 6;
    discharges.push({
      id,
      positionEnuM,
      positionLlh: frame.llhFromEnu(positionEnuM),
      covarianceEnuM2: addMat(randomPart, systematic),
      systematicCovarianceEnuM2: systematic,
      rays: 61 + 37 * k,
      passes: k % 3 === 2 ? 1 : 2,
      normalisedRms: 0.96 + 0.02 * (k % 6),
      nearestRangeM: 36.4 + (k % 5),
      crossingDeg: 22 + 9 * (k % 4),
      heldByLine: k % 7 === 3,
      rate: {
        rateHz,
        countingInterval: { lower: 0.84 * rateHz, upper: 1.19 * rateHz },
        interval: { lower: 0.71 * rateHz, upper: 1.38 * rateHz },
        events: 58.4 + 35.5 * k,
        overdispersion: 1.18 + 0.21 * (k % 5),
        bandNm: [240, 280],
        budget: [
          { name: 'range', relativeSigma: 0.012 },
          { name: 'air', relativeSigma: 0.034 },
          { name: 'efficiency', relativeSigma: 0.12 },
        ],
        notes:
          k % 4 === 1
            ? ['Exposures of 2 ms are short against the mains cycle; the interval has been widened for it.']
            : [],
      },
      attribution: {
        candidates: nobody
          ? [
              { componentId: null, probability: 0.62, distanceM: 0, along: 0, disc: null },
              { componentId: host.id, probability: 0.37, distanceM: 0.84, along: 0.9, disc: null },
            ]
          : [
              {
                componentId: host.id,
                probability: 0.934,
                distanceM: 0.02,
                along,
                disc: host.discs > 0 ? Math.ceil(along * host.discs) : null,
              },
              { componentId: neighbour.id, probability: 0.058, distanceM: 0.31, along: 0.5, disc: null },
              { componentId: null, probability: 0.006, distanceM: 0, along: 0, disc: null },
            ],
        restProbability: nobody ? 0.01 : 0.002,
        advice: 'A pass at a right angle to the first would settle between the string and its clamp.',
      },
    });
    findings.push({
      id,
      componentId: nobody ? null : host.id,
      componentProbability: nobody ? 0.62 : 0.934,
      grade: grades[k % grades.length]!,
      decision: k === 5 ? 'rejected' : k === 0 ? 'confirmed' : 'open',
      comment: k === 5 ? 'Bird deterrent with a metal thread; seen in the colour picture.' : '',
    });
    const seconds = 4 + (k % 3);
    for (const [n, flight] of (k % 3 === 2 ? flights.slice(0, 1) : flights).entries()) {
      const minute = String(33 + 22 * n > 59 ? (33 + 22 * n) % 60 : 33 + 22 * n).padStart(2, '0');
      const hour = '06';
      sightings.push({
        id: `s-${id}-${n}`,
        flight: flight.name,
        dischargeId: id,
        fromUtc: `2026-05-12T${hour}:${minute}:${String(10 + (k % 40)).padStart(2, '0')}.040Z`,
        toUtc: `2026-05-12T${hour}:${minute}:${String(10 + (k % 40) + seconds).padStart(2, '0')}.640Z`,
        framesInView: 50 * seconds,
        events: 30 + 18 * k,
        logLikelihoodRatio: 41 + 9 * k,
        falseAlarmsPerHour: 1e-9,
        suspicions: [],
        seedLlh: frame.llhFromEnu(positionEnuM),
        note: '',
      });
    }
    evidenceOf.set(
      id,
      (k % 3 === 2 ? flights.slice(0, 1) : flights).map((flight, n): EvidenceRecord => {
        const cameraEnuM = add(positionEnuM, [n === 0 ? 9 + (k % 4) : -7, n === 0 ? -35 : 33, 6]);
        const rangeM = distance(cameraEnuM, positionEnuM);
        // The discharge of the picture: at the lower end of the drawn string.
        const centre: [number, number] = [CROP.leftPx + 262.4, CROP.topPx + 236.7];
        const [e, north, up] = subtract(positionEnuM, cameraEnuM);
        const events: number[] = [];
        const photons = k === 2 ? 13 : 60 + 40 * (k % 6);
        for (let p = 0; p < photons; p++)
          events.push(centre[0] + 9 * random.normal() + (p % 4 === 0 ? 12 : 0), centre[1] + 6.5 * random.normal());
        for (let p = 0; p < 14; p++)
          events.push(CROP.leftPx + CROP.widthPx * random.uniform(), CROP.topPx + CROP.heightPx * random.uniform());
        return {
          findingId: id,
          flight: flight.name,
          utc: `2026-05-12T06:${n === 0 ? '33' : '55'}:${String(12 + (k % 40)).padStart(2, '0')}.500Z`,
          colourFrame: 3300 + 17 * k,
          rangeM,
          colourJpeg: jpegs[n]!,
          cropLeftPx: CROP.leftPx,
          cropTopPx: CROP.topPx,
          cropWidthPx: CROP.widthPx,
          cropHeightPx: CROP.heightPx,
          eventsColourPx: events,
          dischargeColourPx: centre,
          overlaySigmaPx: 0.6,
          colourFocalPx: COLOUR_FOCAL_PX,
          accumulatedS: seconds,
          cameraLlh: frame.llhFromEnu(cameraEnuM),
          viewAzimuthDeg: ((Math.atan2(e, north) * 180) / Math.PI + 360) % 360,
          viewElevationDeg: (Math.atan2(up, Math.hypot(e, north)) * 180) / Math.PI,
        };
      }),
    );
  }
  reviewLog.push(
    { findingId: 'd-0001', atUtc: '2026-05-13T08:12:40Z', who: 'I. Varnholt', what: 'confirmed', value: '' },
    {
      findingId: 'd-0001',
      atUtc: '2026-05-13T08:13:05Z',
      who: 'I. Varnholt',
      what: 'comment',
      value: 'Lower two caps look chipped in the colour picture.',
    },
  );
  if (options.findings > 5)
    reviewLog.push({
      findingId: 'd-0006',
      atUtc: '2026-05-13T08:20:11Z',
      who: 'I. Varnholt',
      what: 'rejected',
      value: 'Bird deterrent with a metal thread; seen in the colour picture.',
    });
  const suspect = (id: string, suspicions: SightingRecord['suspicions'], enuM: Vec3, note: string): SightingRecord => ({
    id,
    flight: 'tarnay-north-side',
    dischargeId: null,
    fromUtc: '2026-05-12T06:58:41.020Z',
    toUtc: '2026-05-12T06:58:43.660Z',
    framesInView: 132,
    events: 44.2,
    logLikelihoodRatio: 38,
    falseAlarmsPerHour: 2e-7,
    suspicions,
    seedLlh: frame.llhFromEnu(enuM),
    note,
  });
  sightings.push(
    suspect('s-x1', ['sun glint'], [420, 150, 20], 'The sun stood 4.1° from the mirror direction of the conductor.'),
    suspect('s-x2', ['moves in space', 'off the line'], [610, 260, 48], ''),
    suspect('s-x3', [], [300, 96, 24], 'Rays nearly parallel.'),
  );
  const withFinding = new Set(findings.map(({ componentId }) => componentId));
  const coverage = line.components.map((component, k): CoverageRecord => {
    const state = withFinding.has(component.id) ? 'finding' : k % 23 === 11 ? 'not seen' : 'clear';
    return {
      componentId: component.id,
      state,
      framesInView: state === 'not seen' ? 0 : 180 + 13 * (k % 17),
      nearestRangeM: state === 'not seen' ? null : 35.2 + 0.7 * (k % 12),
      limitHz: state === 'not seen' ? null : 9.4e3 * (1 + 0.11 * (k % 9)),
    };
  });

  return {
    initialise: () => undefined,
    about: () => ({
      name: 'Tarnay, spring 2026',
      originLlh: ISLAND_ORIGIN,
      lineHash: provenance.lineHash,
      schemaVersion: 1,
    }),
    line: () => line,
    inspectionOf: (name) => flights.find((flight) => flight.name === name)?.provenance ?? null,
    saveInspection: () => undefined,
    flights: () => flights,
    sightings: () => sightings,
    discharges: () => discharges,
    findings: () => findings,
    findingNumbers: () => findingNumbers(findings),
    evidenceOf: (id) => evidenceOf.get(id) ?? [],
    coverage: () => coverage,
    review: (entry) => void reviewLog.push(entry),
    reviewLog: () => reviewLog,
    raysOf: () => null,
    settingsOf: () => null,
    resultHash: () => 'c0'.repeat(32),
    saveComparison: () => undefined,
    flightPlacings: () => [],
    comparison: () => null,
    changes: () => [],
    earlierPictureOf: () => null,
    close: () => undefined,
  };
}

/** A drawn stand-in for a colour crop: sky, lattice arm, a string of ten discs, clamp and conductors. */
async function hardwarePicture(sky: string): Promise<Uint8Array> {
  const [top, low] = sky === 'clear' ? ['#7fa6cc', '#d5e2ea'] : ['#9aa3a8', '#cfd3d1'];
  const discs = Array.from(
    { length: 10 },
    (_, k) => `<ellipse cx="262" cy="${112 + 12 * k}" rx="11" ry="4.4" fill="#6e4a35" stroke="#3c281d"/>`,
  ).join('');
  const lattice = Array.from(
    { length: 9 },
    (_, k) =>
      `<path d="M${20 + 28 * k} 96L${34 + 28 * k} 62L${48 + 28 * k} 96" stroke="#5f666b" stroke-width="4" fill="none"/>`,
  ).join('');
  const svg = `<svg xmlns="http://www.w3.org/2000/svg" width="520" height="420">
    <defs><linearGradient id="s" x2="0" y2="1"><stop stop-color="${top}"/><stop offset="1" stop-color="${low}"/></linearGradient></defs>
    <rect width="520" height="420" fill="url(#s)"/>
    <path d="M0 372Q140 330 260 356T520 340V420H0Z" fill="#6f7f57"/><path d="M0 396Q200 364 520 388V420H0Z" fill="#556443"/>
    <path d="M0 96H282M0 60H270L282 96" stroke="#50575c" stroke-width="7" fill="none"/>${lattice}
    <path d="M262 98V242" stroke="#2e3133" stroke-width="3"/>${discs}
    <path d="M244 238H281L274 250H252Z" fill="#474d51"/>
    <path d="M0 262Q180 246 262 248T520 270M0 268Q180 252 262 254T520 276" stroke="#33373a" stroke-width="3" fill="none"/></svg>`;
  return new Uint8Array(await sharp(Buffer.from(svg)).blur(0.6).jpeg({ quality: 88 }).toBuffer());
}
