import { rmSync } from 'node:fs';
import { worldFolder } from './inventedCampaign.ts';

/** Runs in the process that runs all tests, after the last of them. */
export default (): (() => void) => () => {
  if (process.env.CORPOSANT_TEST_WORLD === undefined)
    rmSync(worldFolder(process.pid), { recursive: true, force: true });
};
