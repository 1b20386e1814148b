import { quantile } from '../../maths/sampleStatistics.ts';
import type { CheckFinding } from './CheckFinding.ts';
import { type FrameSample, saturatedEvents } from './sampleFrames.ts';

/** Share of pixels at the sensor's limit that is daylight or a fault, not a discharge (which lights some hundred). */
const FLOODED_SHARE = 0.02;
/** The finder's accuracy and the counting hold up to about this many events a frame. */
const CROWDED_EVENTS = 100;
/** A gain whose events carry so much more or less charge than the curve says is not the gain that was recorded. */
const CHARGE_RATIO_WARNING = 1.35;
const CHARGE_RATIO_FAULT = 1.8;
/** Events that the ratio must rest on: its error is then a few per cent. */
const ENOUGH_EVENTS = 300;
/** Drift of the dark level that eats into an 8 bit range. */
const DARK_DRIFT_DN = 5;
const SATURATED_EVENTS_SHARE = 0.1;

/** What sampled stretches show, and which of them cannot be searched. */
export function imageFindings(samples: readonly FrameSample[]): {
  readonly findings: CheckFinding[];
  /** Stretches whose frames do not count as having seen anything. */
  readonly unusable: readonly FrameSample[];
} {
  const findings: CheckFinding[] = [];
  const say = (
    area: CheckFinding['area'],
    weight: CheckFinding['weight'],
    name: string,
    detail: string,
    at: readonly FrameSample[],
  ): void => {
    const when = at.length < samples.length ? { fromNs: at[0].fromNs, toNs: at[at.length - 1].toNs } : {};
    findings.push({ area, weight, name, detail: `${detail} (${at.length} of ${samples.length} stretches)`, ...when });
  };
  const among = (is: (sample: FrameSample) => boolean): FrameSample[] => samples.filter(is);

  const frozen = among((s) => s.repeatedFrames > (s.to - s.from) / 10);
  const repeated = among((s) => s.repeatedFrames > 0 && !frozen.includes(s));
  const flooded = among((s) => s.saturatedShare > FLOODED_SHARE);
  const dark = among((s) => s.eventsPerFrame === 0 && !frozen.includes(s) && !flooded.includes(s));
  if (frozen.length > 0)
    say('images', 'fault', 'image stands still', 'frames repeat the one before to the last bit', frozen);
  if (repeated.length > 0) {
    const count = repeated.reduce((sum, s) => sum + s.repeatedFrames, 0);
    say('images', 'warning', 'frames repeated', `${count} frames equal the one before to the last bit`, repeated);
  }
  if (flooded.length > 0) {
    const worst = Math.max(...flooded.map((s) => s.saturatedShare));
    say(
      'images',
      'fault',
      'flooded with light',
      `up to ${(100 * worst).toFixed(1)} % of the pixels at the limit`,
      flooded,
    );
  }
  if (dark.length > 0)
    say(
      'events',
      'fault',
      'no photon events',
      'not one event: intensifier off, gain too low, or the lens covered',
      dark,
    );
  const stuck = among((s) => s.stuckRows.length > 0 && !frozen.includes(s));
  if (stuck.length > 0) {
    const rows = [...new Set(stuck.flatMap((s) => s.stuckRows))].sort((a, b) => a - b);
    const list = rows.length > 8 ? `${rows.slice(0, 8).join(', ')} and ${rows.length - 8} more` : rows.join(', ');
    say('images', 'fault', 'stuck rows', `sensor rows ${list} never change`, stuck);
  }
  const crowded = among((s) => s.eventsPerFrame > CROWDED_EVENTS && !flooded.includes(s));
  if (crowded.length > 0) {
    const most = Math.max(...crowded.map((s) => s.eventsPerFrame));
    say(
      'events',
      'warning',
      'crowded with events',
      `up to ${most.toFixed(0)} a frame: light leaks in, limits are poor`,
      crowded,
    );
  }
  const lit = among((s) => s.events.count > 0);
  const bright = lit.filter((s) => saturatedEvents(s) > SATURATED_EVENTS_SHARE * s.events.count);
  if (bright.length > lit.length / 2)
    say(
      'gain',
      'warning',
      'events saturate',
      'more than a tenth of the events reach the limit: the gain is high',
      bright,
    );
  findings.push(...chargeFindings(samples), ...darkFindings(samples));
  return { findings, unusable: [...new Set([...frozen, ...flooded, ...dark])] };
}

/** Whether the charge of single events fits the gain that the index gives, setting by setting. */
function chargeFindings(samples: readonly FrameSample[]): CheckFinding[] {
  const byGain = new Map<number, FrameSample[]>();
  for (const sample of samples) byGain.set(sample.gain, [...(byGain.get(sample.gain) ?? []), sample]);
  return [...byGain].flatMap(([gain, at]): CheckFinding[] => {
    const count = at.reduce((sum, s) => sum + s.chargeCount, 0);
    if (count < ENOUGH_EVENTS) return [];
    const ratio = at.reduce((sum, s) => sum + (s.chargeCount > 0 ? s.chargeRatio * s.chargeCount : 0), 0) / count;
    const off = Math.max(ratio, 1 / ratio);
    if (off < CHARGE_RATIO_WARNING) return [];
    return [
      {
        area: 'gain',
        weight: off > CHARGE_RATIO_FAULT ? 'fault' : 'warning',
        name: 'charge does not fit the gain',
        detail: `at setting ${gain} single events carry ${ratio.toFixed(2)} times the charge of the rig's gain curve (${count} events): another setting was flown, or the curve is out of date`,
        fromNs: at[0].fromNs,
        toNs: at[at.length - 1].toNs,
      },
    ];
  });
}

function darkFindings(samples: readonly FrameSample[]): CheckFinding[] {
  // Of a recording some stretches have no image.
  const levels = samples.map((s) => s.darkDn).filter(Number.isFinite);
  const drift = Math.max(...levels) - Math.min(...levels);
  if (!(drift > DARK_DRIFT_DN)) return [];
  return [
    {
      area: 'images',
      weight: 'warning',
      name: 'dark level drifts',
      detail: `from ${Math.min(...levels).toFixed(1)} to ${Math.max(...levels).toFixed(1)} DN, median ${quantile(levels, 0.5).toFixed(1)} DN`,
    },
  ];
}
