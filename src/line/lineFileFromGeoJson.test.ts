import { expect, test } from 'vitest';
import { localFrameAt } from '../earth/LocalFrame.ts';
import { distance } from '../maths/vec3.ts';
import { distanceToComponent } from './distanceToComponent.ts';
import { lineModelFromFile } from './lineModelFromFile.ts';

const frame = localFrameAt([13.7, 47.3, 600]);
const at = (e: number, n: number, u: number) => [...frame.llhFromEnu([e, n, u])];

function drawn() {
  const tower = (id: string, e: number) => ({
    type: 'Feature',
    id,
    geometry: { type: 'Point', coordinates: at(e, 0, 0) },
    properties: { kind: 'suspension', heightM: 40, sigmaM: 0.2, stroke: '#444', note: null },
  });
  return {
    type: 'FeatureCollection',
    name: 'Drawn',
    voltageKv: 110,
    features: [
      tower('A', 0),
      tower('B', 200),
      {
        type: 'Feature',
        geometry: { type: 'LineString', coordinates: [at(0, 5, 30), at(0, 5, 28)] },
        properties: {
          id: 'A-string',
          kind: 'insulator string',
          structureId: 'A',
          circuit: '',
          phase: 'L1',
          sigmaM: 0.1,
          discs: 8,
        },
      },
      {
        type: 'Feature',
        geometry: { type: 'LineString', coordinates: [at(0, 5, 28), at(100, 5, 24), at(200, 5, 28)] },
        properties: {
          id: 'wire',
          kind: 'phase',
          fromStructureId: 'A',
          toStructureId: 'B',
          circuit: '',
          phase: 'L1',
          sagSigmaM: 0.2,
          bundle: { count: 1, spacingM: 0, radiusM: 0.011 },
        },
      },
    ],
  };
}
const read = (json: unknown) => lineModelFromFile(json, 'line.geojson', frame);

test('a line drawn as GeoJSON stands where it is drawn, and its wire hangs through the point measured on it', () => {
  const line = read(drawn());
  expect(line.structures.map((s) => s.id)).toEqual(['A', 'B']);
  const [string, wire] = line.components;
  expect(string).toMatchObject({ id: 'A-string', kind: 'insulator string', discs: 8 });
  expect(distance(string.axisEnuM[1], [0, 5, 28])).toBeLessThan(1e-8);
  expect(wire.kind).toBe('conductor');
  expect(wire.axisEnuM.length).toBeGreaterThan(10);
  expect(distanceToComponent([100, 5, 24], wire).axisDistanceM).toBeLessThan(0.0015);
});

test.each<[string, (json: ReturnType<typeof drawn>) => void, string]>([
  [
    'a crs',
    (j) => Object.assign(j, { crs: { type: 'name', properties: { name: 'EPSG:25833' } } }),
    'line.geojson, crs: found {"type":"name"',
  ],
  [
    'a position without height',
    (j) => j.features[0].geometry.coordinates.pop(),
    'features.0.geometry.coordinates: found [13.7',
  ],
  [
    'an unknown kind',
    (j) => (j.features[1].properties.kind = 'pole'),
    'features.1.properties.kind: found "pole", expected one of suspension',
  ],
  [
    'a missing uncertainty',
    (j) => delete (j.features[2].properties as { sigmaM?: number }).sigmaM,
    'features.2.properties.sigmaM: found nothing',
  ],
  [
    'a tower drawn as a line',
    (j) => (j.features[3].properties.kind = 'tension'),
    'features.3.geometry: found a LineString of 3 positions, expected a Point',
  ],
])('%s is refused by feature', (_what, spoil, message) => {
  const json = drawn();
  spoil(json);
  expect(() => read(json)).toThrow(message);
});
