import { expect, test } from 'vitest';
import type { Llh } from '../src/earth/Llh.ts';
import { localFrameAt } from '../src/earth/LocalFrame.ts';
import { distanceToComponent } from '../src/line/distanceToComponent.ts';
import { componentById, indexLine } from '../src/line/LineIndex.ts';
import { lineModelFromFile } from '../src/line/lineModelFromFile.ts';
import { hangWire } from '../src/simulate/catenary.ts';
import { describeLine } from '../src/simulate/describe.ts';
import { inventWorld } from '../src/simulate/inventWorld.ts';

test.each([1, 2, 3])('the line on file of invented world %i stands where that world put it', (seed) => {
  const world = inventWorld(seed);
  const json = describeLine(world) as { structures: { positionLlh: Llh }[] };
  // A frame of our own, elsewhere: the two sides share no geodesy, and none of their axes.
  const [lon, lat] = json.structures[0].positionLlh;
  const frame = localFrameAt([lon + 0.02, lat - 0.01, 200]);
  const index = indexLine(lineModelFromFile(json, 'line.json', frame));
  expect(index.line.components.length).toBe(world.line.components.length + world.line.conductors.length);
  for (const wire of world.line.conductors) {
    const component = componentById(index, wire.id);
    if (!component) throw new Error(`${wire.id} is missing`);
    const { startEnuM, endEnuM, sagM } = wire.nominal;
    const hung = hangWire(startEnuM, endEnuM, sagM);
    for (const share of [0, 0.21, 0.5, 0.87, 1]) {
      const truth = frame.enuFromLlh(world.frame.llhFromEnu(hung(share)));
      // 1 mm of chord, 0.1 mm of rounding in the file, and the plumb line that the world keeps upright in its own frame:
      // over 600 m it leans by 1e-4 rad, 0.2 mm on 2 m of sag.
      expect(distanceToComponent(truth, component).axisDistanceM).toBeLessThan(0.0014);
    }
  }
});
