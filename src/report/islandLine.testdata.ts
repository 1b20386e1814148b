import type { Llh } from '../campaign/records.ts';
import type { Grade } from '../grade/Grade.ts';
import type { LineComponent, LineModel, Structure } from '../line/LineModel.ts';
import { add, type Vec3 } from '../maths/vec3.ts';

/** Tarnay: an island that is on no chart, in the open Atlantic. Line, flights and findings are invented, but agree with each other. */
export const ISLAND_ORIGIN: Llh = [-29.7134, 44.0862, 62];

export function islandGrades(): Grade[] {
  const grade = (
    priority: Grade['priority'],
    rule: string,
    expectedness: Grade['expectedness'],
    reasoning: string,
    advice: string,
  ): Grade => ({ priority, rule, advice, expectedness, reasoning });
  return [
    grade(
      'plan soon',
      'string-strong-unexpected',
      'unexpected',
      'The surface gradient at the phase conductor is 14.2 kV/cm, well below the 21.8 kV/cm at which sound hardware begins to glow in dry air of this density.',
      'Have the string checked by other means; caps may be cracked or dirty.',
    ),
    grade(
      'watch',
      'weak-borderline',
      'borderline',
      'Humidity of 86 % brings inception within 10 % of the gradient at the fitting.',
      'Look again at the next flight, in drier air.',
    ),
    grade(
      'act now',
      'clamp-strong-all-passes',
      'unexpected',
      'Seen in every pass, ten times above what such a clamp gives when sound.',
      'Tell the owner’s duty engineer; the clamp may be loose or its conductor damaged.',
    ),
    grade(
      'next maintenance',
      'string-moderate',
      'unexpected',
      'Gradient 14.2 kV/cm against an inception of 21.8 kV/cm.',
      'Clean or wash, and look at the end fitting, when work is next done here.',
    ),
    grade(
      'as expected in this weather',
      'expected',
      'expected',
      'Fittings without rings at this voltage glow in humid air.',
      'None.',
    ),
    grade('watch', 'weak-borderline', 'borderline', 'Near the limit of detection.', 'Look again at the next flight.'),
  ];
}

/** Two circuits on three arms, suspension structures with a tension one at each end and at the bend. */
export function islandLine(count: number): LineModel {
  const structures: Structure[] = [];
  const components: LineComponent[] = [];
  const bend = Math.floor(count / 2);
  let foot: Vec3 = [0, 0, 0];
  for (let k = 0; k < count; k++) {
    structures.push({
      id: `K${k + 1}`,
      kind: k === 0 || k === bend || k === count - 1 ? 'tension' : 'suspension',
      footEnuM: foot,
      heightM: 38.5,
      sigmaM: 0.05,
    });
    const azimuth = k < bend ? 1.19 : 1.42;
    foot = add(foot, [312 * Math.sin(azimuth), 312 * Math.cos(azimuth), 3.5]);
  }
  const arms: readonly (readonly [circuit: string, phase: string, acrossM: number, upM: number])[] = [
    ['1', 'L1', -5.2, 35],
    ['1', 'L2', -7.1, 29],
    ['1', 'L3', -5.2, 23],
    ['2', 'L1', 5.2, 35],
    ['2', 'L2', 7.1, 29],
    ['2', 'L3', 5.2, 23],
  ];
  const across = (k: number): Vec3 => {
    const azimuth = k < bend ? 1.19 : 1.42;
    return [Math.cos(azimuth), -Math.sin(azimuth), 0];
  };
  const at = (k: number, acrossM: number, upM: number): Vec3 => {
    const [e, n] = across(k);
    return add(structures[k]!.footEnuM, [e * acrossM, n * acrossM, upM]);
  };
  for (const [k, { id }] of structures.entries())
    for (const [circuit, phase, acrossM, upM] of arms) {
      const common = { structureIds: [id], circuit, phase, sigmaM: 0.05, bundle: null };
      const end = at(k, acrossM, upM - 1.75);
      components.push(
        {
          ...common,
          id: `${id}-${circuit}-${phase}-string`,
          kind: 'insulator string',
          axisEnuM: [at(k, acrossM, upM), end],
          radiusM: 0.13,
          discs: 10,
        },
        {
          ...common,
          id: `${id}-${circuit}-${phase}-clamp`,
          kind: 'clamp',
          axisEnuM: [end, end],
          radiusM: 0.12,
          discs: 0,
        },
      );
      if (k + 1 === structures.length) continue;
      const next = at(k + 1, acrossM, upM - 1.75);
      const axisEnuM = Array.from({ length: 25 }, (_, s): Vec3 => {
        const t = s / 24;
        return [
          end[0] + t * (next[0] - end[0]),
          end[1] + t * (next[1] - end[1]),
          end[2] + t * (next[2] - end[2]) - 4 * 7.2 * t * (1 - t),
        ];
      });
      const span = { structureIds: [id, structures[k + 1]!.id], circuit, phase, sigmaM: 0.4, discs: 0 };
      components.push({
        ...span,
        id: `${id}-${structures[k + 1]!.id}-${circuit}-${phase}`,
        kind: 'conductor',
        axisEnuM,
        radiusM: 0.2,
        bundle: { count: 2, spacingM: 0.4, radiusM: 0.0114 },
      });
      if (phase === 'L2')
        components.push({
          ...span,
          id: `${id}-${structures[k + 1]!.id}-${circuit}-${phase}-spacer`,
          kind: 'spacer',
          axisEnuM: [axisEnuM[8]!, axisEnuM[8]!],
          radiusM: 0.25,
          bundle: null,
        });
    }
  return {
    name: 'Quillhaven – Morrow Tops',
    owner: 'Tarnay Island Grid (invented)',
    voltageKv: 150,
    structures,
    components,
  };
}
