import { type ReactNode, useEffect, useMemo, useRef } from 'react';
import type { Vec3 } from '../../../../src/maths/vec3.ts';
import type { SightingOfFinding } from '../../server/answers.ts';
import { inkNow, useTheme } from '../../shell/theme.ts';
import { useWords } from '../../words/useWords.ts';
import type { Pass } from './Pass.ts';
import type { Playback } from './usePlayback.ts';

const SLICE_NS = 1e8;
/** Events whose ray passes this near to the discharge count as near. */
const NEAR_M = 0.5;
const SPEEDS = [0.1, 0.25, 0.5, 1, 2, 4] as const;

/** Photon events near the target in equal slices of the pass. */
function slicesOf(pass: Pass, [te, tn, tu]: Vec3): { near: Int32Array; all: Int32Array } {
  const n = Math.max(1, Math.ceil((pass.toNs - pass.fromNs) / SLICE_NS));
  const near = new Int32Array(n);
  const all = new Int32Array(n);
  const { events, uvPoses } = pass;
  for (let i = 0; i < events.count; i++) {
    const slice = Math.floor((events.tNs[i]! - pass.fromNs) / SLICE_NS);
    const pose = events.pose[i]!;
    if (slice < 0 || slice >= n || pose < 0) continue;
    all[slice]!++;
    const x = te - uvPoses.originEnuM[3 * pose]!;
    const y = tn - uvPoses.originEnuM[3 * pose + 1]!;
    const z = tu - uvPoses.originEnuM[3 * pose + 2]!;
    const [dx, dy, dz] = [
      events.directionEnu[3 * i]!,
      events.directionEnu[3 * i + 1]!,
      events.directionEnu[3 * i + 2]!,
    ];
    const along = x * dx + y * dy + z * dz;
    if (along > 0 && x * x + y * y + z * z - along * along < NEAR_M * NEAR_M) near[slice]!++;
  }
  return { near, all };
}

export function Timeline({
  pass,
  target,
  sighting,
  playback,
  shownFrame,
  passes,
}: {
  pass: Pass;
  target: Vec3;
  sighting: SightingOfFinding;
  playback: Playback;
  shownFrame: number;
  passes: ReactNode;
}) {
  const { t, numbers } = useWords();
  const theme = useTheme();
  const canvas = useRef<HTMLCanvasElement>(null);
  const slices = useMemo(() => slicesOf(pass, target), [pass, target]);
  const most = Math.max(...slices.near, 1);
  const span = pass.toNs - pass.fromNs;
  const stepNs = Math.round(1e9 / (pass.frames.uv.frameRateHz || 50));
  // biome-ignore lint/correctness/useExhaustiveDependencies: the theme's colours are read while drawing
  useEffect(() => {
    const element = canvas.current!;
    const draw = () => {
      const ratio = Math.min(devicePixelRatio, 2);
      const w = element.clientWidth;
      const h = element.clientHeight;
      element.width = Math.round(w * ratio);
      element.height = Math.round(h * ratio);
      const c = element.getContext('2d')!;
      const ink = inkNow();
      c.setTransform(ratio, 0, 0, ratio, 0, 0);
      c.clearRect(0, 0, w, h);
      const base = h - 8;
      const x = (ns: number) => ((ns - pass.fromNs) / span) * w;
      c.fillStyle = ink.sunk;
      c.fillRect(x(sighting.fromNs!), 0, x(sighting.toNs!) - x(sighting.fromNs!), base);
      c.fillStyle = ink.ultraviolet;
      const width = Math.max(1, w / slices.near.length - 1);
      slices.near.forEach((count, i) => {
        const tall = (count / most) * (base - 6);
        c.fillRect((i * w) / slices.near.length, base - tall, width, tall);
      });
      c.strokeStyle = ink.mark;
      c.beginPath();
      c.moveTo(0, base + 0.5);
      c.lineTo(w, base + 0.5);
      for (let i = 0; i < pass.colourPoses.count; i++) {
        const at = Math.round(x(pass.colourPoses.tNs[i]!)) + 0.5;
        c.moveTo(at, base);
        c.lineTo(at, base + 5);
      }
      c.stroke();
    };
    const observer = new ResizeObserver(draw);
    observer.observe(element);
    draw();
    return () => observer.disconnect();
  }, [pass, slices, most, sighting, span, theme]);
  const seconds = (playback.tNs - pass.fromNs) / 1e9;
  return (
    <div className="timeline">
      <div className="row transport">
        <button type="button" className="chief" onClick={() => playback.setPlaying(!playback.playing)}>
          {t(playback.playing ? 'evidence.pause' : 'evidence.play')}
        </button>
        <label className="field">
          {t('evidence.speed')}
          <select value={playback.speed} onChange={(event) => playback.setSpeed(Number(event.target.value))}>
            {SPEEDS.map((x) => (
              <option key={x} value={x}>
                {t('evidence.speedOf', { x: numbers.asGiven(x, 2) })}
              </option>
            ))}
          </select>
        </label>
        {passes}
        <span className="soft small keep-right">
          {t('evidence.timeValue', {
            s: numbers.fixed(seconds, 2),
            all: numbers.fixed(span / 1e9, 1),
            frame: shownFrame,
          })}
        </span>
      </div>
      <div className="rail">
        <canvas
          ref={canvas}
          role="img"
          aria-label={t('evidence.rateOf', { ms: SLICE_NS / 1e6, n: numbers.integer(most) })}
        />
        <span className="cursor" style={{ left: `${(100 * (playback.tNs - pass.fromNs)) / span}%` }} />
        <input
          type="range"
          aria-label={t('evidence.time')}
          aria-valuetext={t('evidence.timeValue', {
            s: numbers.fixed(seconds, 2),
            all: numbers.fixed(span / 1e9, 1),
            frame: shownFrame,
          })}
          min={pass.fromNs}
          max={pass.toNs}
          step={stepNs}
          value={playback.tNs}
          onChange={(event) => {
            playback.setPlaying(false);
            playback.seek(Number(event.target.value));
          }}
        />
      </div>
    </div>
  );
}
