import { NOT_A_PHOTON, type PhotonEvents } from '../photon/PhotonEvents.ts';

/** A bright source followed through the image, frame by frame: no pose has a part in it. */
export interface GlowTrack {
  readonly frame: Int32Array;
  readonly tNs: Float64Array;
  readonly xPx: Float64Array;
  readonly yPx: Float64Array;
  /** Photon events it rests on. */
  readonly events: number;
}

/** Events of one frame nearer to each other than this belong to one glow. */
const TOGETHER_PX = 7;
/** Two of them at least: background events come so close in one frame of a hundred. */
const LEAST_EVENTS = 2;
/** How far a glow may go from one frame to the next, and how far from where it was going. */
const FIRST_STEP_PX = 60;
const ASTRAY_PX = 12;
const LONGEST_LOSS_FRAMES = 6;
const LEAST_FRAMES = 12;

interface Glow {
  readonly xPx: number;
  readonly yPx: number;
  readonly events: number;
}

interface Open {
  readonly frames: number[];
  readonly tNs: number[];
  readonly x: number[];
  readonly y: number[];
  /** Per frame. */
  vx: number;
  vy: number;
  events: number;
}

/** Glows of single frames linked into tracks, longest first. Only sources with several events a frame are followed. */
export function glowTracks(events: PhotonEvents): GlowTrack[] {
  const done: Open[] = [];
  let open: Open[] = [];
  for (let from = 0; from < events.count; ) {
    const frame = events.frame[from];
    let to = from;
    while (to < events.count && events.frame[to] === frame) to++;
    const free = glowsOf(events, from, to);
    const still: Open[] = [];
    // The longest choose first: a chance pair must not take the place of what has been followed for long.
    for (const track of open.sort((a, b) => b.frames.length - a.frames.length)) {
      const gap = frame - track.frames[track.frames.length - 1];
      if (gap > LONGEST_LOSS_FRAMES) {
        done.push(track);
        continue;
      }
      still.push(track);
      const n = track.x.length;
      const known = n > 1;
      const reach = known ? ASTRAY_PX + 3 * gap : FIRST_STEP_PX * gap;
      let best = -1;
      let bestPx = reach;
      free.forEach((glow, i) => {
        const px = Math.hypot(
          glow.xPx - track.x[n - 1] - (known ? track.vx * gap : 0),
          glow.yPx - track.y[n - 1] - (known ? track.vy * gap : 0),
        );
        if (px < bestPx) {
          best = i;
          bestPx = px;
        }
      });
      if (best < 0) continue;
      const [glow] = free.splice(best, 1);
      const keep = known ? 0.6 : 0;
      track.vx = keep * track.vx + ((1 - keep) * (glow.xPx - track.x[n - 1])) / gap;
      track.vy = keep * track.vy + ((1 - keep) * (glow.yPx - track.y[n - 1])) / gap;
      track.frames.push(frame);
      track.tNs.push(events.tNs[from]);
      track.x.push(glow.xPx);
      track.y.push(glow.yPx);
      track.events += glow.events;
    }
    open = still;
    for (const { xPx, yPx, events: n } of free)
      open.push({ frames: [frame], tNs: [events.tNs[from]], x: [xPx], y: [yPx], vx: 0, vy: 0, events: n });
    from = to;
  }
  return [...done, ...open]
    .filter((track) => track.frames.length >= LEAST_FRAMES)
    .sort((a, b) => b.frames.length - a.frames.length || a.frames[0] - b.frames[0])
    .map((track) => ({
      frame: Int32Array.from(track.frames),
      tNs: Float64Array.from(track.tNs),
      xPx: Float64Array.from(track.x),
      yPx: Float64Array.from(track.y),
      events: track.events,
    }));
}

/** Groups of events of one frame, each near some other of its group; their middles. */
export function glowsOf(events: PhotonEvents, from: number, to: number): Glow[] {
  const rows: number[] = [];
  for (let e = from; e < to; e++) if ((events.flags[e] & NOT_A_PHOTON) === 0) rows.push(e);
  rows.sort((a, b) => events.xPx[a] - events.xPx[b]);
  const group = rows.map((_, i) => i);
  const find = (i: number): number => {
    let at = i;
    while (group[at] !== at) at = group[at];
    return at;
  };
  for (let i = 0; i < rows.length; i++)
    for (let j = i + 1; j < rows.length && events.xPx[rows[j]] - events.xPx[rows[i]] < TOGETHER_PX; j++)
      if (
        Math.hypot(events.xPx[rows[j]] - events.xPx[rows[i]], events.yPx[rows[j]] - events.yPx[rows[i]]) < TOGETHER_PX
      )
        group[find(j)] = find(i);
  const sums = new Map<number, [number, number, number]>();
  rows.forEach((e, i) => {
    const sum = sums.get(find(i)) ?? [0, 0, 0];
    sum[0] += events.xPx[e];
    sum[1] += events.yPx[e];
    sum[2]++;
    sums.set(find(i), sum);
  });
  return [...sums.values()]
    .filter(([, , n]) => n >= LEAST_EVENTS)
    .map(([x, y, n]) => ({ xPx: x / n, yPx: y / n, events: n }));
}
