import { refineConductor, type SpanPoint } from '../../src/line/refineConductor.ts';
import { type Random, randomFrom } from '../../src/maths/random.ts';
import type { Study } from './Study.ts';

/** One drawn span: what the register says, how the wire hangs, and what a scanner gives of it. */
interface DrawnSpan {
  readonly spanM: number;
  readonly riseM: number;
  readonly registerSagM: number;
  readonly sagM: number;
  readonly beside: readonly [number, number];
  readonly up: readonly [number, number];
  readonly bundle: number;
  readonly points: readonly SpanPoint[];
  readonly noiseM: number;
  readonly perM: number;
}

const BUNDLE_RADIUS_M: Readonly<Record<number, number>> = { 1: 0.015, 2: 0.215, 4: 0.3 };
const WIRES_A_SEED = 12;

/** Wires of a line moved to where an invented laser scan has them, against the wires as drawn. */
export const study: Study = ({ seeds = 40, firstSeed = 1, progress }) => {
  const refined: {
    span: DrawnSpan;
    middleM: number;
    sagM: number;
    endM: number;
    sagSigmas: number;
    endSigmas: number;
    sigmaM: number;
  }[] = [];
  const refused = new Map<string, number>();
  let wrong = 0;
  for (let seed = firstSeed; seed < firstSeed + seeds; seed++) {
    const random = randomFrom(seed);
    for (let i = 0; i < WIRES_A_SEED; i++) {
      const span = draw(random);
      const found = refineConductor(
        span.points,
        { spanM: span.spanM, riseM: span.riseM, sagM: span.registerSagM, bundleRadiusM: BUNDLE_RADIUS_M[span.bundle] },
        2.5,
      );
      if (found.kind === 'not refined') {
        const because = found.because.replace(/[\d.]+ /g, '... ');
        refused.set(because, (refused.get(because) ?? 0) + 1);
        continue;
      }
      const truth = [...span.beside, span.up[0], span.riseM + span.up[1]];
      const got = [...found.beside, ...found.up];
      const off = got.map((x, k) => x - truth[k]);
      const middle = Math.hypot((off[0] + off[1]) / 2, (off[2] + off[3]) / 2 - (found.sagM - span.sagM));
      if (middle > 0.3) wrong++;
      refined.push({
        span,
        middleM: middle,
        sagM: Math.abs(found.sagM - span.sagM),
        endM: Math.max(Math.hypot(off[0], off[2]), Math.hypot(off[1], off[3])),
        sagSigmas: Math.abs(found.sagM - span.sagM) / found.sagSigmaM,
        endSigmas: Math.max(...off.map(Math.abs)) / found.endSigmaM,
        sigmaM: Math.hypot(found.endSigmaM, found.sagSigmaM),
      });
    }
    progress(`seed ${seed}: ${refined.length} wires`);
  }
  const quantile = (values: readonly number[], q: number): number =>
    [...values].sort((a, b) => a - b)[Math.min(values.length - 1, Math.floor(q * values.length))];
  const share = (values: readonly number[], most: number): string =>
    `${((100 * values.filter((x) => x <= most).length) / values.length).toFixed(1)} %`;
  const rows = ([1, 2, 4] as const).map((bundle) => {
    const of = refined.filter((r) => r.span.bundle === bundle);
    const q = (pick: (r: (typeof of)[number]) => number, p: number): string => quantile(of.map(pick), p).toFixed(3);
    return `| ${bundle} | ${of.length} | ${q((r) => r.middleM, 0.5)} | ${q((r) => r.middleM, 0.95)} | ${q((r) => r.sagM, 0.5)} | ${q((r) => r.endM, 0.5)} | ${q((r) => r.endM, 0.95)} | ${q((r) => r.sigmaM, 0.5)} |`;
  });
  const total = seeds * WIRES_A_SEED;
  const median = quantile(
    refined.map((r) => r.middleM),
    0.5,
  );
  return {
    title: 'Wires from a laser scan',
    headline: `Wires moved to a laser scan: ${refined.length} of ${total} refined, middle of the span ${median.toFixed(3)} m off in the median, ${share(
      refined.map((r) => r.sagSigmas),
      1.96,
    )} of the sags within 1.96 stated deviations; ${wrong} put on something else`,
    markdown: [
      `${total} wires drawn at random (seeds ${firstSeed} to ${firstSeed + seeds - 1}, ${WIRES_A_SEED} each): spans of 150 to 450 m, sags of 2.2 % to 3.6 % of the span that the register misses by up to a tenth, wires up to 1.2 m beside and 0.6 m above their place, bundles of 1, 2 and 4, 0.15 to 2 points a metre on each wire with 1 to 5 cm of noise (half of its variance common to 8 m of wire, as scan lines share errors), parts of the span without any, and stray points (5 to 25 %) all over the 2.5 m that are searched. The truth is the catenary written out; the fit never sees it.`,
      '',
      '| bundle | refined | middle of span, median m | 95 % below | sag, median m | worse end, median m | 95 % below | stated sigma, median m |',
      '|---|---|---|---|---|---|---|---|',
      ...rows,
      '',
      `Within 1.96 stated deviations (95 % if they are right): sag ${share(
        refined.map((r) => r.sagSigmas),
        1.96,
      )}; within 2.50 (95 % for the largest of four): ends ${share(
        refined.map((r) => r.endSigmas),
        2.5,
      )}. A middle more than 0.3 m off, where the fit has taken something else for the wire: ${wrong} of ${refined.length}.`,
      '',
      '| not refined because of | wires |',
      '|---|---|',
      ...[...refused].sort((a, b) => b[1] - a[1]).map(([because, n]) => `| ${because} | ${n} |`),
    ].join('\n'),
  };
};

function draw(random: Random): DrawnSpan {
  const between = (a: number, b: number): number => a + (b - a) * random.uniform();
  const spanM = between(150, 450);
  const riseM = between(-0.08, 0.08) * spanM;
  const sagM = between(0.022, 0.036) * spanM;
  const registerSagM = sagM * between(0.9, 1.1);
  const beside = [between(-1.2, 1.2), 0] as [number, number];
  beside[1] = beside[0] + between(-0.2, 0.2);
  const up = [between(-0.6, 0.6), 0] as [number, number];
  up[1] = up[0] + between(-0.2, 0.2);
  const bundle = [1, 2, 4][Math.floor(3 * random.uniform())];
  const noiseM = between(0.01, 0.05);
  const perM = between(0.15, 2);
  const wire = hanging(spanM, riseM + up[1] - up[0], sagM);
  const gap = [between(0, spanM), between(0, 0.3) * spanM];
  const offsets = {
    1: [[0, 0]],
    2: [
      [-0.2, 0],
      [0.2, 0],
    ],
    4: [
      [-0.2, -0.2],
      [0.2, -0.2],
      [-0.2, 0.2],
      [0.2, 0.2],
    ],
  }[bundle] as [number, number][];
  const points: SpanPoint[] = [];
  // Half of the variance is shared by what one stretch of some scan lines gives: 8 m of wire.
  const half = noiseM * Math.SQRT1_2;
  const shared = Array.from({ length: Math.ceil(spanM / 8) }, () => [half * random.normal(), half * random.normal()]);
  for (const [b, u] of offsets)
    for (let n = random.poisson(perM * spanM); n > 0; n--) {
      const xM = random.uniform() * spanM;
      if (xM > gap[0] && xM < gap[0] + gap[1]) continue;
      points.push({
        xM,
        besideM:
          beside[0] +
          ((beside[1] - beside[0]) * xM) / spanM +
          b +
          half * random.normal() +
          shared[Math.floor(xM / 8)][0],
        zM: up[0] + wire(xM) + u + half * random.normal() + shared[Math.floor(xM / 8)][1],
      });
    }
  const drawn = hanging(spanM, riseM, registerSagM);
  for (let n = Math.round(points.length * between(0.05, 0.25)); n > 0; n--) {
    const xM = random.uniform() * spanM;
    points.push({ xM, besideM: between(-2.5, 2.5), zM: drawn(xM) + between(-2.5, 2.5) });
  }
  return { spanM, riseM, registerSagM, sagM, beside, up, bundle, points, noiseM, perM };
}

/** The hanging wire through (0, 0) and (span, rise) with a sag below the middle of the chord, by bisection on its parameter. */
function hanging(spanM: number, riseM: number, sagM: number): (xM: number) => number {
  const of = (c: number) => {
    const lowM = spanM / 2 - c * Math.asinh(riseM / (2 * c * Math.sinh(spanM / (2 * c))));
    return (xM: number): number => c * (Math.cosh((xM - lowM) / c) - Math.cosh(lowM / c));
  };
  let [low, high] = [spanM / 10, 1e6];
  for (let i = 0; i < 100; i++) {
    const c = Math.sqrt(low * high);
    if (riseM / 2 - of(c)(spanM / 2) > sagM) low = c;
    else high = c;
  }
  return of(Math.sqrt(low * high));
}
