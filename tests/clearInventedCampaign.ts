import { rmSync } from 'node:fs';
import { worldFolder } from './inventedCampaign.ts';

/** Runs in the process that runs all tests, after the last of them. */
export default (): (() => void) => () => rmSync(worldFolder(process.pid), { recursive: true, force: true });
