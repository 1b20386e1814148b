import sharp from 'sharp';
import type { Random } from '../maths/random.ts';

/**
 * What stands behind the board: a yard at dusk with bright things of many shapes, none of them a disc. Drawn as vectors
 * and rasterised by librsvg. RGB, row by row.
 */
export async function benchScene(random: Random, widthPx: number, heightPx: number): Promise<Uint8Array> {
  const at = (share: number) => (share * widthPx).toFixed(1);
  const down = (share: number) => (share * heightPx).toFixed(1);
  const shapes: string[] = [];
  const grey = (v: number) => `rgb(${v + 4},${v + 2},${v - 4})`;
  // Wall of boards, door, shelf.
  for (let i = 0; i < 14; i++) {
    shapes.push(
      `<rect x="${at(i / 14)}" y="0" width="${at(1 / 14)}" height="${down(0.72)}" fill="${grey(74 + Math.floor(22 * random.uniform()))}"/>`,
    );
  }
  shapes.push(`<rect x="0" y="${down(0.72)}" width="${widthPx}" height="${down(0.28)}" fill="${grey(62)}"/>`);
  for (let i = 0; i < 240; i++) {
    const v = 50 + Math.floor(40 * random.uniform());
    shapes.push(
      `<ellipse cx="${at(random.uniform())}" cy="${down(0.73 + 0.27 * random.uniform())}" rx="${at(0.012 * random.uniform())}" ry="${down(0.004)}" fill="${grey(v)}"/>`,
    );
  }
  // Windows in sun, lamp tubes, a ladder, warning triangles, tape, a bucket's handle.
  for (let i = 0; i < 4; i++) {
    const x = 0.05 + 0.25 * i + 0.05 * random.uniform();
    const y = 0.06 + 0.25 * random.uniform();
    for (let p = 0; p < 4; p++) {
      shapes.push(
        `<rect x="${at(x + (p % 2) * 0.04)}" y="${down(y + Math.floor(p / 2) * 0.07)}" width="${at(0.036)}" height="${down(0.062)}" fill="rgb(${200 + p * 8},214,226)"/>`,
      );
    }
  }
  for (let i = 0; i < 5; i++) {
    const x = random.uniform();
    const y = random.uniform() * 0.6;
    shapes.push(
      `<line x1="${at(x)}" y1="${down(y)}" x2="${at(x + 0.1 * random.uniform() - 0.05)}" y2="${down(y + 0.12)}" stroke="rgb(238,240,232)" stroke-width="${2 + 4 * random.uniform()}"/>`,
    );
  }
  for (let i = 0; i < 6; i++) {
    const x = 0.05 + 0.9 * random.uniform();
    const y = 0.3 + 0.5 * random.uniform();
    const s = 0.008 + 0.02 * random.uniform();
    shapes.push(
      `<path d="M${at(x)} ${down(y)} L${at(x + s)} ${down(y + 1.9 * s)} L${at(x - s)} ${down(y + 1.9 * s)} Z" fill="rgb(236,226,120)"/>`,
    );
  }
  for (let i = 0; i < 9; i++) {
    shapes.push(
      `<rect x="${at(0.62)}" y="${down(0.35 + i * 0.045)}" width="${at(0.05)}" height="3" fill="rgb(205,205,198)"/>`,
    );
  }
  shapes.push(
    `<path d="M${at(0.3)} ${down(0.85)} q ${at(0.06)} ${down(0.07)} ${at(0.13)} 0" fill="none" stroke="rgb(228,228,222)" stroke-width="5"/>`,
  );
  const svg = `<svg xmlns="http://www.w3.org/2000/svg" width="${widthPx}" height="${heightPx}">${shapes.join('')}</svg>`;
  const { data } = await sharp(Buffer.from(svg)).removeAlpha().blur(1.1).raw().toBuffer({ resolveWithObject: true });
  return data;
}
