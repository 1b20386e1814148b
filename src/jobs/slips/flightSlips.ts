import type { Lens } from '../../camera/Lens.ts';
import { componentsNear, indexLine } from '../../line/LineIndex.ts';
import type { LineModel } from '../../line/LineModel.ts';
import { type PlacedSource, sourcesAgainstLine } from '../../line/sourcesAgainstLine.ts';
import { distance, subtract, type Vec3 } from '../../maths/vec3.ts';
import type { Mounting } from '../../rig/Mounting.ts';
import { clockFromGlows } from '../../sighting/clockFromGlows.ts';
import type { GlowTrack } from '../../sighting/glowTracks.ts';
import type { Sighting } from '../../sighting/Sighting.ts';
import { clockSlip } from '../../time/clockSlip.ts';
import { type HeadingWitness, headingTurn } from '../../trajectory/headingTurn.ts';
import { interpolatePose } from '../../trajectory/interpolatePose.ts';
import type { Track } from '../../trajectory/Track.ts';

export interface SlipFinding {
  readonly name: string;
  readonly weight: 'note' | 'warning' | 'fault';
  readonly detail: string;
}

export interface SlipEvidence {
  readonly glows: readonly GlowTrack[];
  readonly sightings: readonly Sighting[];
  readonly track: Track;
  readonly mounting: Mounting;
  readonly lens: Lens;
  /** null or without components: the glows alone tell. */
  readonly line: LineModel | null;
  /** When the flight was, s since 1970. */
  readonly unixS: number;
}

/** Certain whatever the flight's own threshold. */
const CERTAIN = 30;
const LEAST_RAYS = 8;
/** The strongest so many sources take part: they tell as much as all of them. */
const MOST_SOURCES = 40;
/** A clock that is off by less is the mounting's own business, and only noted. */
const CLOCK_FAULT_S = 0.25;
const CLOCK_WARNING_S = 0.005;
/** The same source from two passes, turned apart by a wrong heading. */
const SAME_WITHIN_M = 6;
const PASS_GAP_NS = 5e9;
const NEAR_HARDWARE_M = 5;
/** A placed seed of a strong source, and hardware on a surveyed line. */
const PLACE_SIGMA_M = 0.2;

/** What the glows of a flight say of its clocks, heights, datum and headings. */
export function flightSlips(evidence: SlipEvidence): SlipFinding[] {
  const { track, line, unixS } = evidence;
  const clock = clockFindings(evidence);
  const sources = strongSources(evidence.sightings);
  const placed: PlacedSource[] = sources.map((s) => ({ placeEnuM: s.seedEnuM, tNs: (s.fromNs + s.toNs) / 2 }));
  const against = line ? sourcesAgainstLine(line, track, placed, unixS) : [];
  // One slip told twice is told once: the clock measured on the glows themselves is the surer.
  const told = clock.some((f) => f.weight === 'fault')
    ? against.filter((f) => !f.name.includes('mixed up') && !f.name.startsWith('clock') && f.weight !== 'warning')
    : against;
  const sound = clock.every((f) => f.weight === 'note') && told.length === 0;
  return [...clock, ...told, ...(sound ? headingFindings(evidence, placed) : [])];
}

function strongSources(sightings: readonly Sighting[]): Sighting[] {
  return sightings
    .filter((s) => s.logLikelihoodRatio >= CERTAIN && s.rays.length >= LEAST_RAYS)
    .filter((s) => s.suspicions.every((because) => because === 'off the line'))
    .sort((a, b) => b.logLikelihoodRatio - a.logLikelihoodRatio)
    .slice(0, MOST_SOURCES);
}

function clockFindings({ glows, track, mounting, lens, unixS }: SlipEvidence): SlipFinding[] {
  const clock = clockFromGlows(glows, track, mounting, lens);
  if (clock.kind === 'agrees' || clock.kind === 'not told') return [];
  if (clock.kind === 'no offset fits')
    return [
      {
        name: 'glows do not come to rest',
        weight: 'warning',
        detail: `the rays of ${clock.tracks} bright glows miss each other by ${clock.givenRmsPx.toFixed(1)} px, and by ${clock.bestRmsPx.toFixed(1)} px with the best clock offset: moving lights, or the attitude is not that of the camera`,
      },
    ];
  const { offsetS, sigmaS } = clock;
  const how = `the rays of ${clock.tracks} bright glows meet (${clock.rmsPx.toFixed(1)} px instead of ${clock.givenRmsPx.toFixed(1)}) with camera stamps ${Math.abs(offsetS).toFixed(3)} ± ${sigmaS.toFixed(3)} s ${offsetS > 0 ? 'later' : 'earlier'} against the trajectory`;
  const slip = Math.abs(offsetS) > 1 ? clockSlip(offsetS, 0.25, unixS) : null;
  if (slip) return [{ name: slip.name, weight: 'fault', detail: `${how}. ${slip.todo}` }];
  const size = Math.abs(offsetS);
  return [
    {
      name: 'clock of the trajectory off',
      weight: size > CLOCK_FAULT_S ? 'fault' : size > CLOCK_WARNING_S ? 'warning' : 'note',
      detail: how,
    },
  ];
}

function headingFindings({ track, line }: SlipEvidence, sources: readonly PlacedSource[]): SlipFinding[] {
  if (sources.length === 0) return [];
  const levers = sources.map(({ placeEnuM, tNs }): Vec3 | null => {
    const pose = interpolatePose(track, tNs);
    return pose.kind === 'pose' ? subtract(placeEnuM, pose.enuFromBody.translation) : null;
  });
  const [lon, lat] = track.frame.llhFromEnu(sources[0].placeEnuM);
  const turn = headingTurn([...againstHardware(line, sources, levers), ...againstEachOther(sources, levers)], lon, lat);
  if (!turn) return [];
  const size = `strong sources lie where they ought to with all headings ${Math.abs(turn.turnDeg).toFixed(2)} ± ${turn.sigmaDeg.toFixed(2)}° ${turn.turnDeg > 0 ? 'greater' : 'smaller'} (${turn.witnesses} comparisons)`;
  if (turn.grid)
    return [
      {
        name: 'headings look like grid headings',
        weight: 'fault',
        detail: `${size}; grid north of ${turn.grid.name} (${turn.grid.code}) stands ${turn.grid.convergenceDeg.toFixed(2)}° from true north here`,
      },
    ];
  return [
    {
      name: 'headings look turned',
      weight: 'warning',
      detail: `${size}: no grid here has that convergence; the boresight, or magnetic north`,
    },
  ];
}

function againstHardware(
  line: LineModel | null,
  sources: readonly PlacedSource[],
  levers: readonly (Vec3 | null)[],
): HeadingWitness[] {
  if (!line || line.components.length === 0) return [];
  const hardware = line.components.filter((c) => c.kind !== 'conductor' && c.kind !== 'earth wire');
  const index = indexLine({ ...line, components: hardware });
  return sources.flatMap(({ placeEnuM }, i): HeadingWitness[] => {
    const lever = levers[i];
    const nearest = lever && componentsNear(index, placeEnuM, NEAR_HARDWARE_M)[0];
    if (!nearest) return [];
    const [e, n] = subtract(nearest.nearestEnuM, placeEnuM);
    return [
      { leverM: [lever[0], lever[1]], missM: [e, n], sigmaM: Math.hypot(PLACE_SIGMA_M, nearest.component.sigmaM) },
    ];
  });
}

/** Sources of different passes that are each other's nearest; the same level tells them from their neighbours above. */
function againstEachOther(sources: readonly PlacedSource[], levers: readonly (Vec3 | null)[]): HeadingWitness[] {
  const nearestOf = (i: number): number => {
    let best = -1;
    let bestM = SAME_WITHIN_M;
    sources.forEach((other, j) => {
      const apartM = distance(sources[i].placeEnuM, other.placeEnuM);
      const level = Math.abs(sources[i].placeEnuM[2] - other.placeEnuM[2]) < 1;
      if (Math.abs(sources[i].tNs - other.tNs) < PASS_GAP_NS || !level || apartM >= bestM) return;
      best = j;
      bestM = apartM;
    });
    return best;
  };
  return sources.flatMap((a, i): HeadingWitness[] => {
    const j = nearestOf(i);
    const [la, lb] = [levers[i], levers[j] ?? null];
    if (j <= i || nearestOf(j) !== i || !la || !lb) return [];
    const b = sources[j];
    const leverM = [la[0] - lb[0], la[1] - lb[1]] as const;
    return [
      {
        leverM,
        missM: [b.placeEnuM[0] - a.placeEnuM[0], b.placeEnuM[1] - a.placeEnuM[1]],
        sigmaM: PLACE_SIGMA_M * Math.SQRT2,
      },
    ];
  });
}
