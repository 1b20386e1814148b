import { randomFrom } from '../maths/random.ts';
import { orderOfRows, type SearchScene } from './SearchScene.ts';

/**
 * The same events at the same places in the image and in as many frames, but dealt out anew among the frames within
 * blocks of time: whatever crossed in space no longer does, while the background keeps its look and its slow changes.
 * @param eventWeight keep an event with this probability (what sources explain is left out)
 */
export function scrambleScene(
  scene: SearchScene,
  eventWeight: Float64Array,
  seed: number,
  blockPoses = 1000,
): SearchScene {
  const random = randomFrom(seed);
  const kept: number[] = [];
  for (let k = 0; k < scene.count; k++) if (random.uniform() < eventWeight[k]) kept.push(k);
  const pose = Int32Array.from(kept, (k) => scene.pose[k]);
  for (let from = 0; from < pose.length; ) {
    let to = from;
    const block = Math.floor(pose[from] / blockPoses);
    while (to < pose.length && Math.floor(pose[to] / blockPoses) === block) to++;
    for (let i = to - 1; i > from; i--) {
      const j = from + Math.floor(random.uniform() * (i - from + 1));
      [pose[i], pose[j]] = [pose[j], pose[i]];
    }
    from = to;
  }
  const order = orderOfRows(
    pose,
    kept.map((k) => scene.yn[k]),
  );
  const take = (column: Float64Array): Float64Array => Float64Array.from(order, (i) => column[kept[i]]);
  const firstOfPose = new Int32Array(scene.poseCount + 1);
  for (const p of pose) firstOfPose[p + 1]++;
  for (let p = 0; p < scene.poseCount; p++) firstOfPose[p + 1] += firstOfPose[p];
  return {
    ...scene,
    count: order.length,
    ray: Int32Array.from(order, (i) => scene.ray[kept[i]]),
    pose: Int32Array.from(order, (i) => pose[i]),
    xPx: take(scene.xPx),
    yPx: take(scene.yPx),
    xn: take(scene.xn),
    yn: take(scene.yn),
    variancePx2: take(scene.variancePx2),
    firstOfPose,
  };
}
