import type { SearchScene } from './SearchScene.ts';

const CELLS_X = 10;
const CELLS_Y = 8;
/** Frames to each side over which the rate is averaged. */
const HALF_WINDOW = 50;
/** Weight, in events, of the belief that the background is even over the image. */
const EVENNESS = 20;

/**
 * Density of background events at each event's place and time, per px² and frame: a map over the image (with the lens's
 * own vignetting, leaked daylight, glow of the tube) times a rate that varies slowly with time.
 * @param share how much of each event is background, 0 to 1: what is explained by sources does not count
 */
export function backgroundAtEvents(scene: SearchScene, share: Float64Array): Float64Array {
  const { lens, count, poseCount } = scene;
  const ofPose = new Float64Array(poseCount + 1);
  const cells = new Float64Array(CELLS_X * CELLS_Y);
  const cellX = CELLS_X / lens.widthPx;
  const cellY = CELLS_Y / lens.heightPx;
  let total = 0;
  for (let k = 0; k < count; k++) {
    ofPose[scene.pose[k]] += share[k];
    const cx = Math.max(0, Math.min(CELLS_X - 1, Math.floor((scene.xPx[k] + 0.5) * cellX)));
    const cy = Math.max(0, Math.min(CELLS_Y - 1, Math.floor((scene.yPx[k] + 0.5) * cellY)));
    cells[cy * CELLS_X + cx] += share[k];
    total += share[k];
  }
  const perCell = total / cells.length;
  const relief = cells.map((n) => (n + EVENNESS) / (perCell + EVENNESS));
  let sum = 0;
  const running = new Float64Array(poseCount + 1);
  for (let p = 0; p < poseCount; p++) {
    sum += ofPose[p];
    running[p + 1] = sum;
  }
  const meanRate = Math.max(total, 1) / Math.max(poseCount, 1);
  const rate = new Float64Array(poseCount);
  for (let p = 0; p < poseCount; p++) {
    const from = Math.max(0, p - HALF_WINDOW);
    const to = Math.min(poseCount, p + HALF_WINDOW + 1);
    // A prior of ten frames at the mean rate keeps an empty stretch from making every event a miracle.
    rate[p] = (running[to] - running[from] + 10 * meanRate) / (to - from + 10);
  }
  const area = lens.widthPx * lens.heightPx;
  const density = new Float64Array(count);
  for (let k = 0; k < count; k++) {
    const gx = Math.max(0, Math.min(CELLS_X - 1.000001, (scene.xPx[k] + 0.5) * cellX - 0.5));
    const gy = Math.max(0, Math.min(CELLS_Y - 1.000001, (scene.yPx[k] + 0.5) * cellY - 0.5));
    const ix = Math.min(CELLS_X - 2, Math.floor(gx));
    const iy = Math.min(CELLS_Y - 2, Math.floor(gy));
    const fx = gx - ix;
    const fy = gy - iy;
    const c = iy * CELLS_X + ix;
    const shape =
      (relief[c] * (1 - fx) + relief[c + 1] * fx) * (1 - fy) +
      (relief[c + CELLS_X] * (1 - fx) + relief[c + CELLS_X + 1] * fx) * fy;
    density[k] = (rate[scene.pose[k]] / area) * shape;
  }
  return density;
}
