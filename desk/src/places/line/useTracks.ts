import { useEffect, useState } from 'react';
import type { CampaignAnswer, TrajectoryAnswer } from '../../server/answers.ts';
import { resourceNow } from '../../server/resource.ts';

const NONE: readonly TrajectoryAnswer[] = [];

/** The tracks of all flights of the campaign; those not there yet, or not readable, are left out of the sheet. */
export function useTracks(campaign: CampaignAnswer | null): readonly TrajectoryAnswer[] {
  const [tracks, setTracks] = useState(NONE);
  const names = campaign?.flights.map((flight) => flight.name).join('\n') ?? '';
  useEffect(() => {
    let wanted = true;
    if (names === '') return;
    void Promise.allSettled(
      names
        .split('\n')
        .map((name) => resourceNow<TrajectoryAnswer>(`/api/flights/${encodeURIComponent(name)}/trajectory`)),
    ).then((answers) => {
      if (wanted) setTracks(answers.flatMap((answer) => (answer.status === 'fulfilled' ? [answer.value] : [])));
    });
    return () => {
      wanted = false;
    };
  }, [names]);
  return tracks;
}
