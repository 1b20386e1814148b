import type { DischargeRecord } from '../../campaign/records.ts';
import type { LocalFrame } from '../../earth/LocalFrame.ts';
import type { Discharge } from '../../place/Discharge.ts';

/** The place with the mounting as stated, for the record of a discharge whose place follows a correction of it; else nothing. */
export const asMountedOf = ({ asMounted }: Discharge, frame: LocalFrame): Pick<DischargeRecord, 'asMounted'> =>
  asMounted ? { asMounted: { ...asMounted, positionLlh: frame.llhFromEnu(asMounted.positionEnuM) } } : {};
