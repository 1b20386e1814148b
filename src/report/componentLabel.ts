import type { LineComponent, LineModel } from '../line/LineModel.ts';
import type { Vec3 } from '../maths/vec3.ts';
import { nearestStructure } from './nearestStructure.ts';
import { fill } from './words/fill.ts';
import type { Words } from './words/Words.ts';

/** What a component is, for a heading: `insulator string, circuit 1, phase L2`. */
export function componentLabel(component: LineComponent | null, words: Words): string {
  if (component === null) return sentenceCase(words.componentUnknown);
  const kind = sentenceCase(words.kinds[component.kind]);
  const parts = [kind];
  if (component.circuit !== '' && component.phase !== '')
    parts.push(fill(words.circuitPhase, { circuit: component.circuit, phase: component.phase }));
  // A tension structure carries two strings for each phase; only the side tells them apart.
  if (component.side !== undefined && component.side !== '') parts.push(fill(words.onSide, { side: component.side }));
  return parts.join(', ');
}

export const sentenceCase = (text: string): string => text.charAt(0).toLocaleUpperCase('en') + text.slice(1);

/** Where in the line it is: `structure T3`, or `span T3 – T4`; without a component, the structure nearest to the place. */
export function placeLabel(
  component: LineComponent | null,
  words: Words,
  without?: { line: LineModel; positionEnuM: Vec3 },
): string {
  const [from, to] = component?.structureIds ?? [];
  if (from === undefined) {
    const nearest = without === undefined ? null : nearestStructure(without.line, without.positionEnuM);
    return nearest === null ? '–' : fill(words.nearStructure, { id: nearest.id });
  }
  return to === undefined ? fill(words.atStructure, { id: from }) : fill(words.inSpan, { from, to });
}
