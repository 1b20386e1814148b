import { join } from 'node:path';
import { openGeoPackageCampaign } from './openGeoPackageCampaign.ts';
import { ABOUT, resultOf, temporaryFolder } from './smallCampaign.testdata.ts';

/** A campaign file with one inspected flight. */
export function inspectedCampaign(name = 'campaign.gpkg'): string {
  const file = join(temporaryFolder(), name);
  const store = openGeoPackageCampaign(file, { create: true });
  store.initialise(ABOUT);
  store.saveInspection(resultOf('west'));
  store.close();
  return file;
}
