import { multiply, multiplyVec } from '../maths/mat3.ts';
import type { Random } from '../maths/random.ts';
import { rotationFromVector, rotationFromYawPitchRoll } from '../maths/rotation.ts';
import { add, scale, type Vec3 } from '../maths/vec3.ts';
import { ARRIVAL_BLUR_PX } from './Spots.ts';
import type { TrueLens } from './TrueLens.ts';
import { inventUnevenness } from './unevenness.ts';
import type { InventedRig, NominalCamera, NominalRig, WorldOptions } from './World.ts';

const RAD = Math.PI / 180;
/** Takes a camera that looks forward to the body: camera z to body x, camera x to body y, camera y to body z. */
const FORWARD_LOOKING = [0, 0, 1, 1, 0, 0, 0, 1, 0] as const;

export const normalVec = (random: Random, sigma: number): Vec3 => [
  sigma * random.normal(),
  sigma * random.normal(),
  sigma * random.normal(),
];

/** A normal number cut off at two standard deviations, so that no seed invents a rig that nobody would have shipped. */
const within2Sigma = (random: Random): number => {
  for (;;) {
    const x = random.normal();
    if (Math.abs(x) < 2) return x;
  }
};

/** Focal length off by its stated sigma, principal point off by a hundredth of the width, barrel or pincushion distortion. */
function inventLens(random: Random, nominal: NominalCamera, k1: number): TrueLens {
  const focalPx = ((nominal.focalMm + nominal.focalSigmaMm * within2Sigma(random)) * 1000) / nominal.pixelPitchUm;
  return {
    widthPx: nominal.widthPx,
    heightPx: nominal.heightPx,
    fxPx: focalPx,
    fyPx: focalPx * (1 + 2e-4 * random.normal()),
    cxPx: (nominal.widthPx - 1) / 2 + 0.01 * nominal.widthPx * within2Sigma(random),
    cyPx: (nominal.heightPx - 1) / 2 + 0.01 * nominal.widthPx * within2Sigma(random),
    k1,
    k2: 0.04 + 0.03 * random.uniform(),
    p1: 6e-4 * within2Sigma(random),
    p2: 6e-4 * within2Sigma(random),
    k3: 0,
  };
}

function nominalRig(size: WorldOptions['size']): NominalRig {
  const full = size === 'full';
  const dn = full ? 8 : 1;
  return {
    format: 'corposant-rig',
    version: 1,
    id: full ? 'petrel-2' : 'petrel-1',
    cameras: {
      uv: {
        widthPx: full ? 1280 : 640,
        heightPx: full ? 1024 : 512,
        pixelPitchUm: full ? 10 : 20,
        focalMm: 20,
        focalSigmaMm: 0.06,
        shutter: 'global',
        bitDepth: full ? 16 : 8,
        spotSigmaPx: 1.3,
        blurSigmaPx: ARRIVAL_BLUR_PX,
        saturationLevel: full ? 4095 : 255,
        gainCurve: [1, 2, 3, 4, 5, 6, 7, 8].map((gain) => ({ gain, meanChargeDn: 120 * dn * 2 ** (gain - 6) })),
        apertureMm: 15,
        bandNm: [240, 280],
        eventsPerPhoton: 0.08,
      },
      colour: {
        widthPx: full ? 2448 : 1224,
        heightPx: full ? 2048 : 1024,
        pixelPitchUm: full ? 3.45 : 6.9,
        focalMm: full ? 10.35 : 10.35,
        focalSigmaMm: 0.031,
        shutter: 'global',
        bitDepth: 8,
      },
    },
    pair: { colourInUvM: [0.15, 0, 0.01], sigmaM: 0.003, rotationSigmaDeg: 0.5 },
    mounting: {
      uvInBodyM: [0.12, 0.08, 0.18],
      leverArmSigmaM: 0.01,
      yawDeg: 90,
      pitchDeg: 0,
      rollDeg: 0,
      boresightSigmaDeg: 0.015,
      timeOffsetSigmaMs: 0.3,
    },
  };
}

export function inventRig(random: Random, options: WorldOptions): InventedRig {
  const nominal = nominalRig(options.size);
  const { pair, mounting } = nominal;
  const uvLens = inventLens(random.fork(1), nominal.cameras.uv, -0.12 - 0.08 * random.uniform());
  const colourLens = inventLens(
    random.fork(2),
    nominal.cameras.colour,
    (random.uniform() < 0.5 ? -1 : 1) * (0.06 + 0.08 * random.uniform()),
  );
  const rotationSigma = pair.rotationSigmaDeg * RAD;
  const rotation = rotationFromVector([
    rotationSigma * within2Sigma(random),
    rotationSigma * within2Sigma(random),
    rotationSigma * within2Sigma(random),
  ]);
  const colourInUvM = add(pair.colourInUvM, normalVec(random, pair.sigmaM));
  const nominalBodyFromUv = multiply(
    rotationFromYawPitchRoll(mounting.yawDeg * RAD, mounting.pitchDeg * RAD, mounting.rollDeg * RAD),
    FORWARD_LOOKING,
  );
  const boresight = rotationFromVector(normalVec(random, mounting.boresightSigmaDeg * RAD));
  return {
    nominal,
    uvLens,
    colourLens,
    colourFromUv: { rotation, translation: scale(multiplyVec(rotation, colourInUvM), -1) },
    bodyFromUv: {
      rotation: multiply(boresight, nominalBodyFromUv),
      translation: add(mounting.uvInBodyM, normalVec(random, mounting.leverArmSigmaM)),
    },
    timeOffsetS: (mounting.timeOffsetSigmaMs / 1000) * random.normal(),
    gainFactor: 1 + 0.03 * random.normal(),
    unevenness: options.uneven ? inventUnevenness(random.fork(3), nominal.cameras.uv) : null,
  };
}
