import { openGeoPackageCampaign } from '../campaign/openGeoPackageCampaign.ts';
import { InputError } from '../input/InputError.ts';

/**
 * Campaigns of earlier years by the names that they carry.
 * @throws InputError for a file that is no campaign, that holds nothing yet, or whose name another carries too
 */
export function earlierCampaigns(files: readonly string[]): ReadonlyMap<string, string> {
  const byName = new Map<string, string>();
  for (const file of files) {
    const name = nameOf(file);
    const before = byName.get(name);
    if (before !== undefined)
      throw new InputError({
        file,
        field: 'name',
        found: `'${name}', the name of ${before} too`,
        expected: 'earlier campaigns with names of their own',
        todo: 'Give one of them.',
      });
    byName.set(name, file);
  }
  return byName;
}

/** With the year of its first flight: a line keeps its name over the years. */
function nameOf(file: string): string {
  const store = openGeoPackageCampaign(file, { create: false });
  try {
    const first = store
      .flights()
      .map(({ startUtc }) => startUtc)
      .sort()[0];
    const about = store.about();
    if (about !== null && first !== undefined) return `${about.name}, ${first.slice(0, 10)}`;
  } finally {
    store.close();
  }
  throw new InputError({
    file,
    found: 'a campaign that holds no inspection yet',
    expected: 'an inspected campaign of an earlier year',
    todo: 'Leave --earlier away, or name another.',
  });
}
