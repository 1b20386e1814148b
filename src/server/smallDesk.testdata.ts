import { join } from 'node:path';
import { onTestFinished } from 'vitest';
import { openGeoPackageCampaign } from '../campaign/openGeoPackageCampaign.ts';
import { ABOUT, resultOf, temporaryFolder } from '../campaign/smallCampaign.testdata.ts';
import type { DeskOptions } from './DeskOptions.ts';
import { type OpenedDesk, openDesk } from './openDesk.ts';

/** A campaign of one flight, in a folder of its own. */
export function smallCampaignFile(): string {
  const file = join(temporaryFolder(), 'campaign.gpkg');
  const store = openGeoPackageCampaign(file, { create: true });
  store.initialise(ABOUT);
  store.saveInspection(resultOf('west'));
  store.close();
  return file;
}

export const PLAIN: Omit<DeskOptions, 'campaignFile'> = {
  flightPaths: [],
  benchPaths: [],
  earlierCampaignFiles: [],
  rigFile: null,
  registrationFile: null,
  previousRegistrationFile: null,
  mountingFile: null,
  lineFile: null,
  tilesFile: null,
  deskFolder: null,
  host: '127.0.0.1',
  port: 0,
  token: null,
  tls: null,
  command: [],
};

/** A desk that really listens, on a port of its own. */
export async function startedDesk(options: Partial<DeskOptions> = {}): Promise<OpenedDesk> {
  const desk = await openDesk({ ...PLAIN, campaignFile: smallCampaignFile(), ...options });
  onTestFinished(() => desk.close());
  return desk;
}
