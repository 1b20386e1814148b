import { expect, test } from 'vitest';
import { drawMap, lineExtent } from './drawMap.ts';
import { islandCampaign } from './islandCampaign.testdata.ts';
import { visibleRuns } from './PaperFrame.ts';
import { reportContents } from './ReportContents.ts';
import { roundLengthM } from './scaleBar.ts';

const drawIsland = async () => {
  const contents = reportContents(await islandCampaign())!;
  const findings = contents.findings.map(({ number, discharge }) => ({
    number,
    positionEnuM: discharge.positionEnuM,
    urgent: number === 1,
  }));
  const paper = { widthMm: 174, heightMm: 190, leastHeightMm: 70 };
  const map = drawMap(contents.line, [], findings, lineExtent(contents.line, findings), paper, {
    north: 'N',
    decimalMark: '.',
  });
  return { contents, findings, map };
};

test('the scale bar of the map agrees with the distance between two structures drawn on it', async () => {
  const { contents, map } = await drawIsland();
  const squares = [...map.svg.matchAll(/<rect x="([\d.-]+)" y="([\d.-]+)" width="2" height="2"/g)];
  expect(squares).toHaveLength(contents.line.structures.length);
  const [first, last] = [squares[0]!, squares.at(-1)!];
  const paperMm = Math.hypot(Number(last[1]) - Number(first[1]), Number(last[2]) - Number(first[2]));
  const [a, b] = [contents.line.structures[0]!.footEnuM, contents.line.structures.at(-1)!.footEnuM];
  const groundM = Math.hypot(b[0] - a[0], b[1] - a[1]);
  const [, lengthM, lengthMm] = /data-length-m="([\d.]+)" data-length-mm="([\d.]+)"/.exec(map.svg)!;
  // Coordinates in the drawing are rounded to a micrometre, the bar being some 20 mm long: 1e-4.
  expect(paperMm / groundM / (Number(lengthMm) / Number(lengthM)) - 1).toBeCloseTo(0, 4);
  expect(map.denominator / ((1000 * groundM) / paperMm)).toBeCloseTo(1, 4);
});

test('north is up: what lies further north is drawn higher on the page', async () => {
  const { contents, map } = await drawIsland();
  const squares = [...map.svg.matchAll(/<rect x="([\d.-]+)" y="([\d.-]+)" width="2" height="2"/g)];
  const { structures } = contents.line;
  expect(structures.at(-1)!.footEnuM[1]).toBeGreaterThan(structures[0]!.footEnuM[1]);
  expect(Number(squares.at(-1)![2])).toBeLessThan(Number(squares[0]![2]));
});

test('every finding is named on the map', async () => {
  const { findings, map } = await drawIsland();
  const named = [...map.svg.matchAll(/>(F\d+(?:, F\d+)*)</g)].flatMap(([, text]) => text!.split(', '));
  expect(named.sort()).toEqual(findings.map(({ number }) => `F${number}`).sort());
});

test('a round length is the largest 1, 2 or 5 of a decade that fits', () => {
  expect([0.0734, 1, 4.99, 5, 19, 731].map(roundLengthM)).toEqual([0.05, 1, 2, 5, 10, 500]);
});

test('of a wire that leaves the sheet and comes back, both visible parts are kept and nothing joins them', () => {
  const wire = [0, 1, 2, 30, 40, 2, 1].map((x) => [x, 0.5] as [number, number]);
  const runs = visibleRuns(wire, { fromX: 0, toX: 3, fromY: 0, toY: 1 });
  expect(runs.map((run) => run.map(([x]) => x))).toEqual([
    [0, 1, 2, 30],
    [40, 2, 1],
  ]);
});
