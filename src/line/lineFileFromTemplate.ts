import { egm96UndulationM } from '../earth/geoid.ts';
import { type LocalFrame, localFrameAt } from '../earth/LocalFrame.ts';
import { InputError } from '../input/InputError.ts';
import { add, norm, scale, unit, type Vec3 } from '../maths/vec3.ts';
import { catenaryFromParameter, heightAt, sagAtMiddle } from './catenary.ts';
import type { LineFile } from './lineFile.ts';
import type { LineTemplateFile, TowerKind } from './lineTemplateFile.ts';

type Llh3 = [number, number, number];

/** A tower as placed: its frame stands on its foot, and `right` points across the line. */
interface PlacedTower {
  readonly id: string;
  readonly kind: TowerKind;
  readonly frame: LocalFrame;
  readonly footLlh: Llh3;
  readonly sigmaM: number;
  readonly right: Vec3;
}

/** Where the wire of the span behind ends and that of the span ahead begins. */
interface WireEnds {
  readonly back: Llh3;
  readonly ahead: Llh3;
}

/**
 * Draws a whole line from tower positions and kinds of tower: strings, clamps and hanging wires. Cross-arms stand
 * across the bisector of the spans; a suspension string hangs plumb; a tension string lies along its wire, as steep as
 * the wire leaves it. The same conductor is found on neighbouring towers by circuit and phase (earth wires by name).
 * What a template cannot know (rings, joints, spacers) is not drawn; each thing carries the stated uncertainty.
 * @throws InputError for an unknown kind of tower, two towers in one place, a conductor that the next tower lacks
 */
export function lineFileFromTemplate(template: LineTemplateFile, file: string): LineFile {
  const towers = placeTowers(template, file);
  const components: LineFile['components'] = [];
  const conductors: LineFile['conductors'] = [];
  for (const wire of wiresOf(template, towers, file)) {
    const ends = wire.tips.map((_, i) => endsAt(template, towers, wire, i, components));
    for (let i = 0; i + 1 < towers.length; i++) {
      const from = ends[i].ahead;
      const to = ends[i + 1].back;
      const span = localFrameAt(from).enuFromLlh(to);
      const curve = catenaryFromParameter(Math.hypot(span[0], span[1]), span[2], wire.parameterM);
      const sagM = sagAtMiddle(curve);
      conductors.push({
        id: `${towers[i].id}..${towers[i + 1].id} ${wire.name}`,
        kind: wire.earth ? 'earth' : 'phase',
        fromStructureId: towers[i].id,
        toStructureId: towers[i + 1].id,
        circuit: wire.circuit,
        phase: wire.phase,
        startLlh: from,
        endLlh: to,
        sagM,
        sagSigmaM: Math.hypot(template.hardwareSigmaM, template.sagRelativeSigma * sagM),
        bundle: wire.earth ? template.earthWire.bundle : template.phaseWire.bundle,
      });
    }
  }
  return {
    format: 'corposant-line',
    version: 1,
    name: template.name,
    owner: template.owner,
    voltageKv: template.voltageKv,
    structures: towers.map(({ id, kind, footLlh, sigmaM }) => ({
      id,
      kind: kind.kind,
      positionLlh: footLlh,
      sigmaM,
      heightM: kind.heightM,
    })),
    components,
    conductors,
  };
}

function placeTowers(template: LineTemplateFile, file: string): PlacedTower[] {
  const feet = template.towers.map(({ footLlh: [lon, lat, height] }): Llh3 => {
    return [lon, lat, template.heightKind === 'EGM96' ? height + egm96UndulationM(lon, lat) : height];
  });
  return template.towers.map((tower, i) => {
    const kind = template.towerKinds[tower.towerKind];
    if (!kind)
      throw new InputError({
        file,
        field: `towers.${i}.towerKind`,
        found: `"${tower.towerKind}"`,
        expected: `one of ${Object.keys(template.towerKinds)
          .map((k) => `"${k}"`)
          .join(', ')}`,
        todo: 'Add the kind to towerKinds or correct its name.',
      });
    const frame = localFrameAt(feet[i]);
    const directions = [feet[i - 1], feet[i + 1]].map((neighbour, ahead) => {
      if (!neighbour) return null;
      const [e, n] = frame.enuFromLlh(neighbour);
      if (!(Math.hypot(e, n) > 1))
        throw new InputError({
          file,
          field: `towers.${i}.footLlh`,
          found: 'the place of its neighbour in the list',
          expected: 'towers in order along the line, each in its own place',
          todo: 'Sort the towers and leave out doubles.',
        });
      return scale(unit([e, n, 0]), ahead === 1 ? 1 : -1);
    });
    const [back, ahead] = [directions[0] ?? directions[1], directions[1] ?? directions[0]] as [Vec3, Vec3];
    // A line that turns straight back has no bisector; its cross-arm is then set across the span ahead.
    const sum = add(back, ahead);
    const along = norm(sum) > 1e-6 ? unit(sum) : ahead;
    return { id: tower.id, kind, frame, footLlh: feet[i], sigmaM: tower.sigmaM, right: [along[1], -along[0], 0] };
  });
}

interface Wire {
  readonly name: string;
  readonly circuit: string;
  readonly phase: string;
  readonly earth: boolean;
  readonly parameterM: number;
  /** On each tower: the tip of the cross-arm, and its string where there is one. */
  readonly tips: readonly {
    readonly llh: Llh3;
    readonly string: TowerKind['phases'][number]['string'] | null;
    readonly side: string;
  }[];
}

function wiresOf(template: LineTemplateFile, towers: readonly PlacedTower[], file: string): Wire[] {
  const tip = (tower: PlacedTower, rightM: number, levelM: number): Llh3 => [
    ...tower.frame.llhFromEnu(add(scale(tower.right, rightM), [0, 0, levelM])),
  ];
  const missing = (what: string, tower: PlacedTower, i: number): never => {
    throw new InputError({
      file,
      field: `towers.${i}.towerKind`,
      found: `no ${what} on "${tower.id}"`,
      expected: 'the same conductors on every tower of the list',
      todo: 'Give lines that branch or end as lists of their own.',
    });
  };
  const side = (rightM: number) => (rightM < 0 ? 'left' : rightM > 0 ? 'right' : 'middle');
  // Of all towers, so that a conductor which only some carry is noticed whichever they are.
  const phaseNames = new Map(
    towers.flatMap((t) =>
      t.kind.phases.map(({ circuit, phase }) => [JSON.stringify([circuit, phase]), { circuit, phase }] as const),
    ),
  );
  const earthNames = new Set(towers.flatMap((t) => t.kind.earthWires.map((w) => w.name)));
  const phases = [...phaseNames.values()].map(({ circuit, phase }): Wire => {
    const name = `${circuit} ${phase}`.trim();
    const tips = towers.map((tower, i) => {
      const at = tower.kind.phases.find((p) => p.circuit === circuit && p.phase === phase);
      if (!at) return missing(`conductor "${name}"`, tower, i);
      return { llh: tip(tower, at.rightM, at.levelM), string: at.string, side: side(at.rightM) };
    });
    return { name, circuit, phase, earth: false, parameterM: template.phaseWire.parameterM, tips };
  });
  const earths = [...earthNames].map((name): Wire => {
    const tips = towers.map((tower, i) => {
      const at = tower.kind.earthWires.find((w) => w.name === name);
      if (!at) return missing(`earth wire "${name}"`, tower, i);
      return { llh: tip(tower, at.rightM, at.levelM), string: null, side: side(at.rightM) };
    });
    return { name, circuit: '', phase: '', earth: true, parameterM: template.earthWire.parameterM, tips };
  });
  return [...phases, ...earths];
}

/** Draws string and clamps of one wire at one tower into `components`, and says where its spans begin and end. */
function endsAt(
  template: LineTemplateFile,
  towers: readonly PlacedTower[],
  wire: Wire,
  i: number,
  components: LineFile['components'],
): WireEnds {
  const tower = towers[i];
  const { llh, string, side } = wire.tips[i];
  if (!string) return { back: llh, ahead: llh };
  const sigmaM = Math.hypot(template.hardwareSigmaM, tower.sigmaM);
  const owner = { structureId: tower.id, circuit: wire.circuit, phase: wire.phase, side, sigmaM };
  const draw = (suffix: string, endLlh: Llh3) => {
    const { discs, radiusM } = string;
    const at = `${tower.id} ${wire.name}`;
    components.push({
      id: `${at} string${suffix}`,
      kind: 'insulator string',
      ...owner,
      startLlh: llh,
      endLlh,
      discs,
      radiusM,
    });
    components.push({ id: `${at} clamp${suffix}`, kind: 'clamp', ...owner, startLlh: endLlh, endLlh });
    return endLlh;
  };
  const tip = localFrameAt(llh);
  if (tower.kind.kind === 'suspension') {
    const end = draw('', [...tip.llhFromEnu([0, 0, -string.lengthM])]);
    return { back: end, ahead: end };
  }
  const towards = (j: number): Llh3 | null => {
    if (!wire.tips[j]) return null;
    const [e, n, u] = tip.enuFromLlh(wire.tips[j].llh);
    const spanM = Math.hypot(e, n);
    const curve = catenaryFromParameter(spanM, u, wire.parameterM);
    // The slope in which the wire leaves, from its first metre.
    const direction = unit([
      e / spanM,
      n / spanM,
      heightAt(curve, Math.min(1, spanM / 100)) / Math.min(1, spanM / 100),
    ]);
    return [...tip.llhFromEnu(scale(direction, string.lengthM))];
  };
  const back = towards(i - 1);
  const ahead = towards(i + 1);
  return {
    back: back ? draw(' back', back) : llh,
    ahead: ahead ? draw(' ahead', ahead) : llh,
  };
}
