import type { Lens } from '../../camera/Lens.ts';
import { betaCdf } from '../../maths/distributions.ts';
import type { RigidTransform } from '../../maths/rigidTransform.ts';
import { mean, quantile } from '../../maths/sampleStatistics.ts';
import { assessRegistration } from '../../rig/assessRegistration.ts';
import { type PlaneModel, TWO_CAMERA_PARAMETER_COUNT } from '../../rig/Registration.ts';
import { parseRegistration, type RegistrationDocument } from '../../rig/registrationFile.ts';
import { STRENGTH_CLASSES } from './scoreFindings.ts';

/** What `corposant score --json` prints, as far as the tables need it. */
interface ScoreJson {
  readonly truths: number;
  readonly found: number;
  readonly falseAlarms: number;
  readonly byStrength: readonly { readonly name: string; readonly truths: number; readonly found: number }[];
  readonly matches: readonly {
    readonly errorM: number;
    readonly errorEnuM: readonly [number, number, number];
    readonly normalisedErrorSquared: number;
    readonly insideEllipsoid95: boolean;
    readonly attributedRight: boolean;
    readonly firstProbability: number;
    readonly rateRatio: number;
    readonly rateInside95: boolean;
  }[];
  readonly traps: readonly { readonly trap: string; readonly becameFinding: string | null }[];
}

export interface WorldResult {
  readonly seed: number;
  readonly score: ScoreJson;
  readonly inspection: { readonly uvFrames: number };
  readonly bench: { readonly kind: string };
  readonly registration: RegistrationDocument;
  readonly rigTruth: { readonly uv: Lens; readonly colour: Lens; readonly colourFromUv: RigidTransform };
}

/** Ranges at which a registration is set against the truth: none of them recorded on the bench. */
const RANGES_M = [15, 20, 40, 60, Number.POSITIVE_INFINITY];
const UV_FRAMES_PER_HOUR = 50 * 3600;

/** A page of `docs/accuracy/`: its title, one sentence with the figures that decide, and the tables in Markdown. */
export interface AccuracyPage {
  readonly title: string;
  readonly headline: string;
  readonly markdown: string;
}

/** The page on whole worlds, from their scores. Shares come with 95 % Clopper-Pearson intervals. */
export function accuracyOfWorlds(worlds: readonly WorldResult[]): AccuracyPage {
  const matches = worlds.flatMap((world) => world.score.matches);
  const falseAlarms = worlds.reduce((sum, world) => sum + world.score.falseAlarms, 0);
  const hours = worlds.reduce((sum, world) => sum + world.inspection.uvFrames, 0) / UV_FRAMES_PER_HOUR;
  const errors = matches.map((m) => m.errorM);
  const traps = worlds.flatMap((world) => world.score.traps);
  const truths = worlds.reduce((sum, world) => sum + world.score.truths, 0);
  const inside = matches.filter((m) => m.insideEllipsoid95).length;
  const right = matches.filter((m) => m.attributedRight).length;
  return {
    title: 'Whole worlds',
    headline: `${matches.length} of ${truths} discharges found, ${falseAlarms} false alarms in ${hours.toFixed(2)} h; median 3D error ${quantile(errors, 0.5).toFixed(3)} m; truth in the 95 % ellipsoid ${percentOf(inside, matches.length)}; component right ${percentOf(right, matches.length)}.`,
    markdown: `On ${worlds.length} invented worlds (seeds ${worlds[0].seed} to ${worlds[worlds.length - 1].seed}), each taken through the command as a user would:
bench, inspection, score against a truth that no measuring code can read. Every world has its own rig, lenses, misalignment, mounting
errors, trajectory errors, air, line and discharges. Nothing was tuned on these seeds. Shares are given with their 95 % interval
(Clopper & Pearson 1934).

## Registration

RMS in colour pixels, mean over the worlds; held out: whole sweeps left out in turn.

${ladderTable(worlds)}

Against the truth, at ranges that were never recorded, over the supported region:

${rangeTable(worlds)}

The mapping is far better known than the lens by itself: a shift of the principal point looks like a turn of the camera in every picture of
the target. What that leaves uncertain goes into every position, as a part of the ellipsoid that does not average out: a pixel is 40 mm at 40 m, mostly
in height where two sides of a line are flown. A mounting measured in flight with the same registration takes it up (\`corposant mounting\`).

${lensTable(worlds)}

## Detection

At one false alarm accepted per flight hour. Strength: photon events a frame in the better pass, as rendered.

${markdown(
  ['strength', 'discharges', 'found', 'share'],
  STRENGTH_CLASSES.map((c) => {
    const of = worlds.reduce((sum, w) => sum + (w.score.byStrength.find((s) => s.name === c.name)?.truths ?? 0), 0);
    const found = worlds.reduce((sum, w) => sum + (w.score.byStrength.find((s) => s.name === c.name)?.found ?? 0), 0);
    return [c.name, String(of), String(found), share(found, of)];
  }),
)}

Findings without a true discharge within 1 m: ${falseAlarms} in ${hours.toFixed(2)} hours of flight. Traps that became a finding: ${traps.filter((t) => t.becameFinding !== null).length} of ${traps.length} (sun glint, moving source, cosmic ray, intermittent hot pixel in each world).

## Position

${markdown(
  ['', ''],
  [
    ['median 3D error', `${quantile(errors, 0.5).toFixed(3)} m`],
    ['95 % of 3D errors below', `${quantile(errors, 0.95).toFixed(3)} m`],
    [
      'mean error east, north, up',
      [0, 1, 2]
        .map((i) => mean(matches.map((m) => m.errorEnuM[i])).toFixed(3))
        .join(', ')
        .concat(' m'),
    ],
    ['truth inside the 95 % ellipsoid', share(matches.filter((m) => m.insideEllipsoid95).length, matches.length)],
    ['mean normalised error squared (3 expected)', meanWithWorldError(worlds)],
  ],
)}

Discharges of one world share its trajectory, boresight and lens errors, so they are not independent: the interval of the mean is
from the scatter between worlds, and the interval of the share (which takes each discharge as independent) is too narrow.

## Component

${markdown(
  ['', ''],
  [
    [
      'most probable component is the right one',
      share(matches.filter((m) => m.attributedRight).length, matches.length),
    ],
    [
      'right by chance, as the probabilities claim',
      `${((100 * matches.reduce((s, m) => s + m.firstProbability, 0)) / matches.length).toFixed(1)} %`,
    ],
  ],
)}

Reliability of the first candidate's probability:

${reliabilityTable(matches)}

## Photon rate

${markdown(
  ['', ''],
  [
    [
      'median of found over true',
      quantile(
        matches.map((m) => m.rateRatio),
        0.5,
      ).toFixed(3),
    ],
    ['true rate inside the 95 % interval', share(matches.filter((m) => m.rateInside95).length, matches.length)],
  ],
)}
`,
  };
}

const percentOf = (part: number, of: number): string => (of === 0 ? 'none' : `${((100 * part) / of).toFixed(1)} %`);

function ladderTable(worlds: readonly WorldResult[]): string {
  const kinds = worlds[0].registration.ladder.rows.map((row) => row.kind);
  const px = (values: readonly (number | null)[]): string => {
    const known = values.filter((v) => v !== null);
    return known.length === 0 ? '-' : mean(known).toFixed(3);
  };
  const rows = kinds.map((kind) => {
    const of = worlds.flatMap((w) => w.registration.ladder.rows.filter((row) => row.kind === kind));
    return [
      kind,
      px(of.map((r) => r.inSampleRmsPx)),
      px(of.map((r) => r.heldOutRmsPx)),
      px(of.map((r) => r.ownRangeHeldOutRmsPx)),
      String(worlds.filter((w) => w.registration.ladder.chosen === kind).length),
    ];
  });
  const ratios = worlds.map((w) => w.registration.statistics.heldOutRmsPx / w.registration.statistics.noiseFloorPx);
  return `${markdown(['model', 'in sample', 'held out', 'held out, at its own range', 'chosen in worlds'], rows)}

Held-out RMS over the noise of the correspondences themselves: mean ${mean(ratios).toFixed(3)}, largest ${Math.max(...ratios).toFixed(3)}.`;
}

function rangeTable(worlds: readonly WorldResult[]): string {
  const assessed = worlds.map((world) => {
    const { registration } = parseRegistration(JSON.stringify(world.registration), 'registration.json');
    const plane = (world.registration.planeModels.find((m) => m.kind === 'polynomial degree 2') ??
      null) as PlaneModel | null;
    const lens = (l: Lens, size: Lens): Lens => ({
      ...l,
      k3: l.k3 ?? 0,
      widthPx: size.widthPx,
      heightPx: size.heightPx,
    });
    const { uv, colour, colourFromUv } = world.rigTruth;
    return assessRegistration(
      registration,
      { uv: lens(uv, registration.model.uv), colour: lens(colour, registration.model.colour), colourFromUv },
      RANGES_M,
      plane,
    );
  });
  return markdown(
    [
      'range m',
      'RMS px, mean',
      'RMS px, worst world',
      'worst pixel px',
      'error squared over predicted',
      'degree 2 polynomial, RMS px',
    ],
    RANGES_M.map((rangeM, i) => {
      const here = assessed.map((a) => a[i]);
      return [
        Number.isFinite(rangeM) ? String(rangeM) : 'infinite',
        mean(here.map((a) => a.rmsPx)).toFixed(3),
        Math.max(...here.map((a) => a.rmsPx)).toFixed(3),
        Math.max(...here.map((a) => a.worstPx)).toFixed(3),
        mean(here.map((a) => a.normalisedSquare)).toFixed(2),
        mean(here.map((a) => a.planeRmsPx ?? Number.NaN)).toFixed(2),
      ];
    }),
  );
}

function lensTable(worlds: readonly WorldResult[]): string {
  const parameters = ['fxPx', 'fyPx', 'cxPx', 'cyPx'] as const;
  return markdown(
    ['ultraviolet lens', 'RMS error px', 'predicted sigma px, mean', 'RMS of error over predicted sigma'],
    parameters.map((name, i) => {
      const errors = worlds.map((w) => w.registration.model.uv[name] - w.rigTruth.uv[name]);
      const sigmas = worlds.map((w) => Math.sqrt(w.registration.covariance[(TWO_CAMERA_PARAMETER_COUNT + 1) * i]));
      const rms = (values: readonly number[]): string => Math.sqrt(mean(values.map((v) => v * v))).toFixed(2);
      return [name, rms(errors), mean(sigmas).toFixed(2), rms(errors.map((e, k) => e / sigmas[k]))];
    }),
  );
}

function reliabilityTable(matches: ScoreJson['matches']): string {
  const edges = [0, 0.5, 0.7, 0.9, 0.99, 1.0001];
  return markdown(
    ['probability stated', 'discharges', 'mean stated', 'right'],
    edges.slice(1).map((to, i) => {
      const inside = matches.filter((m) => m.firstProbability >= edges[i] && m.firstProbability < to);
      return [
        `${edges[i]} to ${Math.min(1, to)}`,
        String(inside.length),
        inside.length === 0 ? '-' : mean(inside.map((m) => m.firstProbability)).toFixed(3),
        share(inside.filter((m) => m.attributedRight).length, inside.length),
      ];
    }),
  );
}

function meanWithWorldError(worlds: readonly WorldResult[]): string {
  const means = worlds
    .filter((w) => w.score.matches.length > 0)
    .map((w) => mean(w.score.matches.map((m) => m.normalisedErrorSquared)));
  const centre = mean(means);
  const sd = Math.sqrt(means.reduce((sum, m) => sum + (m - centre) ** 2, 0) / Math.max(1, means.length - 1));
  return `${centre.toFixed(2)} ± ${((1.96 * sd) / Math.sqrt(means.length)).toFixed(2)} (95 %)`;
}

/** "28 of 30, 93.3 % (77.9 to 99.2 %)". */
export function share(part: number, of: number): string {
  if (of === 0) return 'none';
  const percent = (x: number): string => (100 * x).toFixed(1);
  const lower = part === 0 ? 0 : inverseBeta(0.025, part, of - part + 1);
  const upper = part === of ? 1 : inverseBeta(0.975, part + 1, of - part);
  return `${part} of ${of}, ${percent(part / of)} % (${percent(lower)} to ${percent(upper)} %)`;
}

/** The x with I_x(a, b) = p, by bisection. */
function inverseBeta(p: number, a: number, b: number): number {
  let low = 0;
  let high = 1;
  for (let i = 0; i < 60; i++) {
    const middle = (low + high) / 2;
    if (betaCdf(middle, a, b) < p) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

const markdown = (header: readonly string[], rows: readonly (readonly string[])[]): string =>
  [header, header.map(() => '---'), ...rows].map((cells) => `| ${cells.join(' | ')} |`).join('\n');
