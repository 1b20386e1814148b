import type { Ink } from '../shell/theme.ts';
import type { Pen } from './Pen.ts';
import type { ComponentItem } from './SheetItems.ts';

/**
 * One piece of hardware, true to scale where the scale shows it: a string with its discs, a ring as a circle, a clamp as a
 * square, the rest by marks of their own. Its state is in the stroke: full for clear, broken for not seen, violet and
 * heavy for a finding.
 */
export function drawHardware(pen: Pen, item: ComponentItem, ink: Ink, chosen: boolean): void {
  const { context: c } = pen;
  const { about, line } = item;
  const ax = pen.x(line[0]!);
  const ay = pen.y(line[1]!);
  const bx = pen.x(line[line.length - 2]!);
  const by = pen.y(line[line.length - 1]!);
  const length = Math.hypot(bx - ax, by - ay);
  const radius = Math.max(2.2, about.radiusM * pen.view.pxPerM);
  const state = about.coverage.state;
  c.strokeStyle = state === 'finding' ? ink.ultraviolet : state === 'clear' ? ink.ink : ink.mark;
  c.lineWidth = (state === 'finding' ? 2 : 1.25) + (chosen ? 1.5 : 0);
  c.setLineDash(state === 'not seen' ? [2, 3] : []);
  c.lineCap = 'butt';
  c.beginPath();
  const mx = (ax + bx) / 2;
  const my = (ay + by) / 2;
  const ux = length > 0 ? (bx - ax) / length : 1;
  const uy = length > 0 ? (by - ay) / length : 0;
  switch (about.kind) {
    case 'insulator string': {
      c.moveTo(ax, ay);
      c.lineTo(bx, by);
      // Discs only where they stand apart on the screen.
      const discs = about.discs;
      if (discs > 0 && length / discs > 3.5)
        for (let i = 0; i < discs; i++) {
          const t = (i + 0.5) / discs;
          const x = ax + t * (bx - ax);
          const y = ay + t * (by - ay);
          c.moveTo(x - uy * radius, y + ux * radius);
          c.lineTo(x + uy * radius, y - ux * radius);
        }
      else if (length > 10)
        for (const t of [0.2, 0.4, 0.6, 0.8]) {
          const x = ax + t * (bx - ax);
          const y = ay + t * (by - ay);
          c.moveTo(x - uy * 2.5, y + ux * 2.5);
          c.lineTo(x + uy * 2.5, y - ux * 2.5);
        }
      break;
    }
    case 'ring':
      c.arc(mx, my, Math.max(3.2, radius), 0, 2 * Math.PI);
      break;
    case 'clamp':
      c.rect(mx - radius, my - radius, 2 * radius, 2 * radius);
      break;
    case 'joint':
      c.moveTo(ax, ay);
      c.lineTo(bx, by);
      c.moveTo(mx - radius, my - radius);
      c.lineTo(mx + radius, my + radius);
      c.moveTo(mx - radius, my + radius);
      c.lineTo(mx + radius, my - radius);
      break;
    case 'spacer':
      c.moveTo(mx, my - radius - 1);
      c.lineTo(mx, my + radius + 1);
      c.moveTo(mx - 2, my - radius - 1);
      c.lineTo(mx + 2, my - radius - 1);
      c.moveTo(mx - 2, my + radius + 1);
      c.lineTo(mx + 2, my + radius + 1);
      break;
    default:
      c.moveTo(ax, ay);
      c.lineTo(bx, by);
      c.moveTo(mx - radius - 2, my);
      c.lineTo(mx + radius + 2, my);
      c.moveTo(mx - radius - 2, my - 2);
      c.lineTo(mx - radius - 2, my + 2);
      c.moveTo(mx + radius + 2, my - 2);
      c.lineTo(mx + radius + 2, my + 2);
  }
  c.stroke();
  c.setLineDash([]);
}
