import type { Support, TwoCameraModel } from '../../../src/rig/Registration.ts';

// The shapes of the server's answers, as its own schemas have them: types only, no code of the server comes to the browser.
export type { CampaignAnswer, FlightOfCampaign, TrajectoryAnswer } from '../../../src/server/api/campaign.ts';
export type {
  EvidenceOfFinding,
  FindingAnswer,
  FindingRow,
  FindingsAnswer,
  SightingOfFinding,
  SightingsAnswer,
} from '../../../src/server/api/findings.ts';
export type { ColumnsHead, FramesAnswer } from '../../../src/server/api/flights.ts';
export type { ComponentAnswer, LineAnswer, StructureAnswer } from '../../../src/server/api/line.ts';
export type {
  ReviewConflict,
  ReviewDone,
  ReviewLogAnswer,
  ReviewLogEntry,
  ReviewRequest,
} from '../../../src/server/api/review.ts';

/** GET /api/registration/:hash: the registration file, or the nominal model, which knows no covariance. */
export interface RegistrationAnswer {
  readonly model: TwoCameraModel;
  /** 24 x 24, row by row. */
  readonly covariance?: readonly number[];
  readonly support: Support;
  readonly statistics?: { readonly heldOutRmsPx: number };
  readonly heldOutRmsPx?: number;
}
