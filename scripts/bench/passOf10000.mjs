// 10,000 sightings of 100 rays each, for the benchmark: one camera flown past at 15 m/s, 40 m off, a source for each sighting near the
// middle of its own stretch. Also as plain bundles for the reference.
const SIGHTINGS = 10_000;
const RAYS = 100;
const STEP_M = 0.3;

export function passOf10000(random) {
  const frames = SIGHTINGS + RAYS;
  const poses = {
    count: frames,
    frame: Int32Array.from({ length: frames }, (_, i) => i),
    tNs: Float64Array.from({ length: frames }, (_, i) => i * 2e7),
    exposureNs: new Float64Array(frames).fill(1.8e7),
    originEnuM: new Float64Array(3 * frames),
    uvFromEnu: new Float64Array(9 * frames),
  };
  for (let i = 0; i < frames; i++) {
    poses.originEnuM.set([STEP_M * i, -40, 1], 3 * i);
    poses.uvFromEnu.set([1, 0, 0, 0, 0, -1, 0, 1, 0], 9 * i);
  }
  const n = SIGHTINGS * RAYS;
  const rays = {
    count: n,
    event: Int32Array.from({ length: n }, (_, i) => i),
    frame: new Int32Array(n),
    tNs: new Float64Array(n),
    originEnuM: new Float64Array(3 * n),
    directionEnu: new Float64Array(3 * n),
    sigmaRad: new Float64Array(n).fill(1e-3),
  };
  const bundles = [];
  const sightings = Array.from({ length: SIGHTINGS }, (_, s) => {
    const at = [STEP_M * (s + RAYS / 2) + random.normal(), random.normal(), random.normal()];
    const origins = [];
    const directions = [];
    for (let i = 0; i < RAYS; i++) {
      const r = s * RAYS + i;
      const origin = [STEP_M * (s + i), -40, 1];
      const d = [at[0] - origin[0] + 0.04 * random.normal(), at[1] + 40, at[2] - 1 + 0.04 * random.normal()];
      const k = 1 / Math.hypot(...d);
      const direction = d.map((x) => x * k);
      rays.frame[r] = s + i;
      rays.tNs[r] = (s + i) * 2e7;
      rays.originEnuM.set(origin, 3 * r);
      rays.directionEnu.set(direction, 3 * r);
      origins.push(origin);
      directions.push(direction);
    }
    const start = [STEP_M * (s + RAYS / 2), 0, 0];
    bundles.push({ origins, directions, start });
    return {
      id: String(s),
      rays: Int32Array.from({ length: RAYS }, (_, i) => s * RAYS + i),
      membership: new Float64Array(RAYS).fill(1),
      fromNs: s * 2e7,
      toNs: (s + RAYS - 1) * 2e7,
      framesInView: RAYS,
      seedEnuM: start,
      logLikelihoodRatio: 100,
      expectedBackground: 0,
      falseAlarmsPerHour: 0,
      suspicions: [],
    };
  });
  const diagonal = (v) => [v, 0, 0, 0, v, 0, 0, 0, v];
  const lens = {
    ...{ widthPx: 1280, heightPx: 1024, fxPx: 1000, fyPx: 1000, cxPx: 639.5, cyPx: 511.5 },
    ...{ k1: -0.1, k2: 0.03, p1: 0, p2: 0, k3: 0 },
  };
  const errors = {
    positionSigmaEnuM: [0.02, 0.02, 0.03],
    attitudeSigmaRad: { roll: 2e-4, pitch: 2e-4, heading: 5e-4 },
    positionCorrelationS: 60,
    attitudeCorrelationS: 60,
    lightInstantSigmaS: 0.002,
    mounting: {
      bodyFromUv: { rotation: [-1, 0, 0, 0, 0, 1, 0, 1, 0], translation: [0.1, 0.1, 0.1] },
      leverArmCovarianceM2: diagonal(1e-4),
      boresightCovarianceRad2: diagonal(1e-7),
      timeOffsetNs: 0,
      timeOffsetSigmaNs: 3e5,
    },
    lens,
    lensCovariance: Float64Array.from({ length: 81 }, (_, i) =>
      i % 10 === 0 ? [1, 1, 1, 1, 1e-5, 1e-3, 1e-8, 1e-8, 1e-2][i / 10] : 0,
    ),
  };
  return { poses, rays, sightings, errors, bundles };
}
