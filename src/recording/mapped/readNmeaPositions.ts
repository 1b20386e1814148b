import { egm96UndulationM } from '../../earth/geoid.ts';
import { InputError } from '../../input/InputError.ts';
import type { Epoch } from '../../time/Epoch.ts';
import { degreesIn, numberIn } from './angleText.ts';
import { stampOf } from './clockReading.ts';
import { type NmeaSentence, nmeaSentence } from './nmeaSentence.ts';
import type { PositionStream } from './poseStreams.ts';
import { EGM96_SAID } from './positionColumns.ts';
import type { NmeaMapping } from './TrajectoryMapping.ts';
import { forEachLine } from './textLines.ts';
import { timeOfDay } from './timeColumn.ts';

/** What the quality of a GGA sentence says. Source: NMEA 0183 (from memory). */
const QUALITY: Readonly<Record<string, string>> = {
  1: 'autonomous',
  2: 'differential',
  3: 'precise service',
  4: 'fixed',
  5: 'float',
  6: 'dead reckoning',
  7: 'entered by hand',
  8: 'simulated',
  9: 'augmented',
};

interface OpenFix {
  readonly row: number;
  readonly tNs: number;
  readonly timeText: string;
  readonly llh: [number, number, number];
  readonly quality: string;
  sigma: [number, number, number] | null;
}

/**
 * Positions from GGA sentences, with their day from RMC or ZDA and their standard deviations from GST. Sentences whose
 * checksum is wrong are left out and counted, as are those of other kinds. Height above the ellipsoid is the antenna's
 * height above the sea plus the geoid's separation.
 * @throws InputError where no sentence tells the day, where no position has standard deviations, and for values that cannot be
 */
export async function readNmeaPositions(
  file: string,
  mapping: NmeaMapping,
  epoch: Epoch,
): Promise<{ readonly positions: PositionStream; readonly notes: string[] }> {
  const done = {
    tNs: [] as number[],
    llh: [] as [number, number, number][],
    sigmaM: [] as [number, number, number][],
    fix: [] as string[],
  };
  const broken = new Map<string, number>();
  const leftOut = new Map<string, number>();
  const count = (counts: Map<string, number>, what: string): unknown => counts.set(what, (counts.get(what) ?? 0) + 1);
  let dayS = mapping.day === undefined ? null : Date.parse(`${mapping.day}T00:00:00Z`) / 1000;
  let timeBefore = Number.NEGATIVE_INFINITY;
  let waiting: { sentence: NmeaSentence; row: number }[] = [];
  let open: OpenFix | null = null;
  let noSentence = 0;

  const refuse = (row: number, field: string, found: string, expected: string): never => {
    throw new InputError({
      file,
      row,
      field,
      found,
      expected,
      todo: "Check the receiver's output; a sentence with a right checksum should hold right values.",
    });
  };
  const close = (): void => {
    if (!open) return;
    const stated = mapping.fix?.[open.quality];
    const sigma =
      open.sigma ??
      (stated ? ([stated.levelSigmaM, stated.levelSigmaM, stated.uprightSigmaM] as [number, number, number]) : null);
    if (stated?.leaveOut) count(leftOut, `with the fix "${QUALITY[open.quality]}", as the mapping says`);
    else if (!sigma)
      refuse(
        open.row,
        'GST',
        `no standard deviations at ${open.timeText}, quality ${open.quality}`,
        `a GST sentence of that time, or values for quality ${open.quality} in the mapping (fix)`,
      );
    else if (open.tNs <= (done.tNs[done.tNs.length - 1] ?? Number.NEGATIVE_INFINITY))
      count(leftOut, 'as they do not come later than the one before');
    else {
      done.tNs.push(open.tNs);
      done.llh.push(open.llh);
      done.sigmaM.push(sigma);
      done.fix.push(QUALITY[open.quality] ?? open.quality);
    }
    open = null;
  };
  const takeGga = ({ fields }: NmeaSentence, row: number): void => {
    close();
    const [time, lat, latMark, lon, lonMark, quality, , , height, heightUnit, separation, separationUnit] = fields;
    if (quality === '0' || quality === '') {
      count(leftOut, 'without a fix');
      return;
    }
    const ofDay = timeOfDay(time) ?? refuse(row, 'GGA, time', `"${time}"`, 'hhmmss.ss');
    if (ofDay.s < timeBefore - 43_200) dayS = (dayS as number) + 86_400;
    timeBefore = ofDay.s;
    const latDeg = degreesIn(`${lat}${latMark}`, 'ddmm');
    const lonDeg = degreesIn(`${lon}${lonMark}`, 'ddmm');
    if (!(Math.abs(latDeg) <= 90) || !(Math.abs(lonDeg) <= 180))
      refuse(row, 'GGA, position', `"${lat},${latMark},${lon},${lonMark}"`, 'ddmm.mm,N or S,dddmm.mm,E or W');
    const aboveSea = numberIn(height);
    const geoid = mapping.separation === 'EGM96' ? egm96UndulationM(lonDeg, latDeg) : numberIn(separation ?? '');
    if (!Number.isFinite(aboveSea) || heightUnit !== 'M')
      refuse(row, 'GGA, height', `"${height},${heightUnit}"`, 'a height above the sea in metres');
    if (!Number.isFinite(geoid) || (mapping.separation === 'as given' && separationUnit !== 'M'))
      refuse(
        row,
        'GGA, separation',
        `"${separation},${separationUnit}"`,
        'the geoid above the ellipsoid in metres, or "separation": "EGM96" in the mapping',
      );
    const face = { s: (dayS as number) + ofDay.s, ns: ofDay.ns };
    open = {
      row,
      tNs: stampOf(epoch, face, 'UTC', null),
      timeText: time,
      llh: [lonDeg, latDeg, aboveSea + geoid],
      quality,
      sigma: null,
    };
  };
  const take = (sentence: NmeaSentence, row: number): void => {
    const { kind, fields } = sentence;
    if (kind === 'GGA') takeGga(sentence, row);
    else if (kind === 'GST' && open && sameTime(fields[0], open.timeText)) {
      const [north, east, up] = [fields[5], fields[6], fields[7]].map(numberIn);
      if ([north, east, up].every((s) => s > 0)) open.sigma = [north, east, up];
    }
  };
  await forEachLine(file, (line, row) => {
    const outcome = nmeaSentence(line);
    if (outcome.kind === 'no sentence') noSentence += line.trim() === '' ? 0 : 1;
    else if (outcome.kind === 'broken') count(broken, outcome.because);
    else {
      const { sentence } = outcome;
      if (sentence.kind !== 'GGA' && sentence.kind !== 'GST' && sentence.kind !== 'RMC' && sentence.kind !== 'ZDA')
        return;
      if (dayS === null) {
        dayS = dayOf(sentence);
        if (dayS === null) {
          waiting.push({ sentence, row });
          return;
        }
        // Sentences before the first that tells the day belong to it, unless midnight lies between them.
        const first = waiting.find((w) => w.sentence.kind === 'GGA');
        const firstS = first ? (timeOfDay(first.sentence.fields[0])?.s ?? 0) : 0;
        const nowS = timeOfDay(sentence.fields[0])?.s ?? 0;
        if (first && firstS > nowS + 43_200) dayS -= 86_400;
        for (const w of waiting) take(w.sentence, w.row);
        waiting = [];
      }
      take(sentence, row);
    }
  });
  if (dayS === null)
    throw new InputError({
      file,
      field: 'RMC, ZDA',
      found: 'no sentence that tells the day',
      expected: 'an RMC or a ZDA sentence, or "day" in the mapping',
      todo: 'Give the day of the first sentence (UTC) in the mapping.',
    });
  close();
  const notes: string[] = [];
  if (mapping.separation === 'EGM96') notes.push(EGM96_SAID);
  for (const [because, n] of broken) notes.push(`${n} sentences were left out: ${because}.`);
  for (const [because, n] of leftOut) notes.push(`${n} positions were left out ${because}.`);
  if (noSentence > 0) notes.push(`${noSentence} lines hold no sentence.`);
  return { positions: { file, tNs: done.tNs, llh: done.llh, sigmaM: done.sigmaM, fix: done.fix }, notes };
}

const sameTime = (a: string, b: string): boolean => Number(a) === Number(b);

/** Seconds since 1970 at the begin of the day that a sentence tells; null where it tells none. */
function dayOf({ kind, fields }: NmeaSentence): number | null {
  const [day, month, year] =
    kind === 'RMC' && /^\d{6}$/.test(fields[8] ?? '')
      ? [fields[8].slice(0, 2), fields[8].slice(2, 4), `20${fields[8].slice(4)}`]
      : kind === 'ZDA'
        ? fields.slice(1, 4)
        : [];
  const ms = Date.parse(`${year}-${month}-${day}T00:00:00Z`);
  return Number.isFinite(ms) ? ms / 1000 : null;
}
