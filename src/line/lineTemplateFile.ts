import { z } from 'zod';
import { llh } from './lineFile.ts';

const id = z.string().min(1).max(200);
const word = z.string().max(200);
const positive = z.number().positive();

const bundle = z.strictObject({
  count: z.int().min(1).max(16),
  spacingM: z.number().min(0).max(2),
  radiusM: positive.max(0.2),
});

/** One conductor's place on a tower: where its string hangs from, or is dead-ended. */
const attachment = z.strictObject({
  circuit: word,
  phase: id,
  /** Across the line, metres, right positive, looking towards the next tower of the list. */
  rightM: z.number().min(-60).max(60),
  /** Of the tip of the cross-arm above the foot. */
  levelM: positive.max(400),
  string: z.strictObject({ lengthM: positive.max(25), discs: z.int().min(0).max(200), radiusM: positive.max(2) }),
});

const towerKind = z.strictObject({
  kind: z.enum(['suspension', 'tension']),
  heightM: positive.max(400),
  phases: z.array(attachment).min(1).max(48),
  earthWires: z
    .array(z.strictObject({ name: id, rightM: z.number().min(-60).max(60), levelM: positive.max(400) }))
    .max(8),
});

/** `line.json` of format "corposant-line-template": tower positions and kinds of tower. Fields: docs/formats.md. */
export const lineTemplateFile = z.strictObject({
  format: z.literal('corposant-line-template'),
  version: z.literal(1),
  name: id,
  owner: word,
  voltageKv: positive.max(2000, 'a voltage in kV, not V'),
  /** Of the foot heights below: above the WGS 84 ellipsoid, or above the sea by the EGM96 geoid. */
  heightKind: z.enum(['ellipsoidal', 'EGM96']),
  towerKinds: z.record(id, towerKind),
  phaseWire: z.strictObject({ parameterM: positive, bundle }),
  earthWire: z.strictObject({ parameterM: positive, bundle }),
  /** How far hardware may be from where the template puts it, and sags from the catenary parameter's, relative. */
  hardwareSigmaM: positive,
  sagRelativeSigma: positive.max(1),
  /** In order along the line. */
  towers: z.array(z.strictObject({ id, towerKind: id, footLlh: llh, sigmaM: positive })).min(2),
});
export type LineTemplateFile = z.infer<typeof lineTemplateFile>;
export type TowerKind = z.infer<typeof towerKind>;
