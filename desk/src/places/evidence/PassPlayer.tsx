import { type ReactNode, useEffect, useMemo, useRef, useState } from 'react';
import { norm, subtract, type Vec3 } from '../../../../src/maths/vec3.ts';
import { lookUp } from '../../../../src/rig/lookUpTable.ts';
import { carryEvents } from '../../overlay/carryEvents.ts';
import { densityLevels, kernelFor } from '../../overlay/densityLevels.ts';
import { FrameCache } from '../../overlay/FrameCache.ts';
import { originOf, poseAt } from '../../overlay/PassPoses.ts';
import type { FindingAnswer, SightingOfFinding } from '../../server/answers.ts';
import { useWords } from '../../words/useWords.ts';
import { EvidencePanel } from './EvidencePanel.tsx';
import { colourPxOfPoint, ellipseInPicture, sigmaAlong } from './geometryOfPass.ts';
import type { Pass } from './Pass.ts';
import { PictureStage } from './PictureStage.tsx';
import { placeInPictures } from './placeInPictures.ts';
import { type StageSettings, usualSettings } from './StageSettings.ts';
import { Timeline } from './Timeline.tsx';
import { usePlayback } from './usePlayback.ts';

/** What is shown at first, from top to bottom: the hardware, what it hangs from, and some sky. */
const CLOSE_UP_M = 5;
/** How far ahead of the cursor pictures are fetched. */
const AHEAD = 8;

export function PassPlayer({
  pass,
  finding,
  sighting,
  passes,
}: {
  pass: Pass;
  finding: FindingAnswer;
  sighting: SightingOfFinding;
  passes: ReactNode;
}) {
  const { t } = useWords();
  const target: Vec3 = placeInPictures(finding);
  const { model } = pass.registration;
  const best = useMemo(() => bestMoment(pass, finding, sighting), [pass, finding, sighting]);
  const playback = usePlayback(pass.fromNs, pass.toNs, best);
  const [settings, setSettings] = useState<StageSettings>(usualSettings);
  const [pointer, setPointer] = useState<readonly [number, number] | null>(null);
  const [measured, setMeasured] = useState<readonly (readonly [number, number])[]>([]);

  // Pictures come when they come; each arrival draws again.
  const [, setArrivals] = useState(0);
  const cache = useRef<FrameCache | null>(null);
  useEffect(() => {
    const own = new FrameCache(pass.flight, () => setArrivals((n) => n + 1));
    cache.current = own;
    setArrivals((n) => n + 1);
    return () => own.close();
  }, [pass.flight]);
  const wanted = poseAt(pass.colourPoses, playback.tNs);
  useEffect(() => {
    const frames: number[] = [];
    for (let i = wanted; i >= 0 && i < Math.min(pass.colourPoses.count, wanted + AHEAD); i++)
      frames.push(pass.colourPoses.frame[i]!);
    if (wanted > 0) frames.push(pass.colourPoses.frame[wanted - 1]!);
    cache.current?.want(frames);
  });
  // What is not there yet is not guessed: the last picture that is there stays, and the overlay with it.
  let shown = wanted;
  while (shown > 0 && wanted - shown < 4 && !cache.current?.get(pass.colourPoses.frame[shown]!)) shown--;
  const frame = shown >= 0 ? pass.colourPoses.frame[shown]! : -1;
  const there = frame >= 0 ? (cache.current?.get(frame) ?? null) : null;
  if (!there) shown = wanted;

  const kernel = useMemo(() => reference(pass, finding, best, settings), [pass, finding, best, settings]);
  const halfNs = settings.accumulateS * 5e8;
  const carried = useMemo(
    () =>
      shown < 0
        ? null
        : carryEvents(
            pass.events,
            pass.uvPoses,
            model.uv,
            { poses: pass.colourPoses, pose: shown },
            target,
            playback.tNs - halfNs,
            playback.tNs + halfNs,
            settings.follow,
          ),
    [pass, model, shown, target, playback.tNs, halfNs, settings.follow],
  );
  const events = useMemo(
    () =>
      carried && {
        count: carried.count,
        px: carried.uvPx,
        inverseRangePerM: carried.inverseRangePerM,
        alreadyColour: false,
      },
    [carried],
  );
  const cameraEnuM = shown >= 0 ? originOf(pass.colourPoses, shown) : null;
  const trueRangeM = cameraEnuM ? norm(subtract(target, cameraEnuM)) : finding.nearestRangeM;
  const rangeSigmaM = cameraEnuM ? sigmaAlong(finding.covarianceEnuM2, cameraEnuM, target) : 0;
  const ellipse = shown >= 0 ? ellipseInPicture(model, pass.colourPoses, shown, target, finding.covarianceEnuM2) : null;
  const stage = {
    pass,
    pose: shown,
    picture: there,
    events,
    inverseRangePerM: settings.inverseRangePerM,
    trueRangeM,
    rangeSigmaM,
    kernelPx: kernel.kernelPx,
    levels: kernel.levels,
  };
  return (
    <div className="player">
      <PictureStage
        drawing={stage}
        table={pass.table}
        pictureSize={pass.frames.colour}
        settings={settings}
        ellipse={settings.marks ? ellipse : null}
        focalPx={Math.sqrt(model.colour.fxPx * model.colour.fyPx)}
        measured={measured}
        onPointer={setPointer}
        onPoint={
          settings.measuring ? (px) => setMeasured((before) => (before.length === 1 ? [before[0]!, px] : [px])) : null
        }
        onStep={(by) => {
          const to = pass.colourPoses.tNs[Math.min(pass.colourPoses.count - 1, Math.max(0, wanted + by))];
          if (to !== undefined) playback.seek(to);
        }}
        closeUp={
          ellipse && {
            u: ellipse.u,
            v: ellipse.v,
            heightPx: (CLOSE_UP_M * Math.sqrt(model.colour.fxPx * model.colour.fyPx)) / trueRangeM,
          }
        }
        note={there ? null : t('evidence.noPicture')}
        waiting={frame >= 0 && !cache.current?.isMissing(frame)}
      />
      <Timeline
        pass={pass}
        target={target}
        sighting={sighting}
        playback={playback}
        shownFrame={frame}
        passes={passes}
      />
      <EvidencePanel
        drawing={stage}
        finding={finding}
        settings={settings}
        onSettings={setSettings}
        pointer={pointer}
        measured={measured}
        onClearMeasured={() => setMeasured([])}
        discharge={ellipse ? [ellipse.u, ellipse.v] : null}
        tNs={playback.tNs}
      />
    </div>
  );
}

/** The colour picture of the pass in which the discharge lies nearest to the middle, as the report chooses it. */
function bestMoment(pass: Pass, finding: FindingAnswer, sighting: SightingOfFinding): number {
  const { colour } = pass.registration.model;
  let best = (sighting.fromNs! + sighting.toNs!) / 2;
  let least = Number.POSITIVE_INFINITY;
  for (let i = 0; i < pass.colourPoses.count; i++) {
    const t = pass.colourPoses.tNs[i]!;
    if (t < sighting.fromNs! || t > sighting.toNs!) continue;
    const px = colourPxOfPoint(pass.registration.model, pass.colourPoses, i, placeInPictures(finding));
    if (!px) continue;
    const away = Math.hypot(px[0] - colour.widthPx / 2, px[1] - colour.heightPx / 2);
    if (away < least) {
      least = away;
      best = t;
    }
  }
  return best;
}

/**
 * Kernel and levels of a pass, from the pass's best moment: they stay while it is played, so that a glow that fades looks
 * fainter and not merely redrawn.
 */
function reference(pass: Pass, finding: FindingAnswer, best: number, settings: StageSettings) {
  const pose = poseAt(pass.colourPoses, best);
  const none = { kernelPx: 3, levels: [] as number[] };
  if (pose < 0) return none;
  const half = settings.accumulateS * 5e8;
  const carried = carryEvents(
    pass.events,
    pass.uvPoses,
    pass.registration.model.uv,
    { poses: pass.colourPoses, pose },
    placeInPictures(finding),
    best - half,
    best + half,
    settings.follow,
  );
  const centre = colourPxOfPoint(pass.registration.model, pass.colourPoses, pose, placeInPictures(finding));
  if (!centre) return none;
  const points: number[] = [];
  for (let i = 0; i < carried.count; i++) {
    const px = lookUp(pass.table, carried.uvPx[2 * i]!, carried.uvPx[2 * i + 1]!, carried.inverseRangePerM[i]!);
    if (px) points.push(...px);
  }
  const kernelPx = kernelFor(points, centre, pass.registration.heldOutRmsPx);
  return { kernelPx, levels: densityLevels(points, centre, kernelPx) };
}
