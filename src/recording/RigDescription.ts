import { z } from 'zod';
import { name, positive, vec3 } from './fields.ts';

const camera = {
  widthPx: z.int().min(16).max(16384),
  heightPx: z.int().min(16).max(16384),
  pixelPitchUm: positive,
  focalMm: positive,
  focalSigmaMm: positive,
  shutter: z.literal('global'),
};

/** `rig.json`: what is known of the camera pair before it is calibrated. Fields: docs/formats.md. */
export const rigDescription = z.strictObject({
  format: z.literal('corposant-rig'),
  version: z.literal(1),
  id: name,
  cameras: z.strictObject({
    uv: z.strictObject({
      ...camera,
      bitDepth: z.union([z.literal(8), z.literal(16)]),
      spotSigmaPx: positive,
      blurSigmaPx: positive,
      saturationLevel: positive,
      gainCurve: z.array(z.strictObject({ gain: z.number(), meanChargeDn: positive })).min(1),
      apertureMm: positive,
      bandNm: z.tuple([positive, positive]),
      eventsPerPhoton: z.number().gt(0).max(1),
    }),
    colour: z.strictObject({ ...camera, bitDepth: z.literal(8) }),
  }),
  pair: z.strictObject({ colourInUvM: vec3, sigmaM: positive, rotationSigmaDeg: positive }),
  mounting: z.strictObject({
    uvInBodyM: vec3,
    leverArmSigmaM: positive,
    yawDeg: z.number().min(-360).max(360),
    pitchDeg: z.number().min(-90).max(90),
    rollDeg: z.number().min(-180).max(180),
    boresightSigmaDeg: positive,
    timeOffsetSigmaMs: z.number().min(0),
  }),
});
export type RigDescription = z.infer<typeof rigDescription>;
