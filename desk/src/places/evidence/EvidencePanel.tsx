import { projectPoint } from '../../../../src/camera/projectPoint.ts';
import { norm } from '../../../../src/maths/vec3.ts';
import { colourPxFromUv } from '../../../../src/rig/colourFromUv.ts';
import { intoCamera } from '../../overlay/PassPoses.ts';
import type { FindingAnswer } from '../../server/answers.ts';
import { useWords } from '../../words/useWords.ts';
import { CheckOverlay } from './CheckOverlay.tsx';
import { measuredBetween } from './geometryOfPass.ts';
import { PointerReading } from './PointerReading.tsx';
import { placeInPictures } from './placeInPictures.ts';
import type { StageDrawing } from './StageDrawing.ts';
import { ACCUMULATE_S, type StageSettings } from './StageSettings.ts';
import { UvFrame } from './UvFrame.tsx';

/** Nearest range that the slider offers. */
const NEAREST_M = 6;

/** The margin beside the picture: what is drawn, at which range, and what can be read off it. */
export function EvidencePanel({
  drawing,
  finding,
  settings,
  onSettings,
  pointer,
  measured,
  onClearMeasured,
  discharge,
  tNs,
}: {
  drawing: StageDrawing;
  finding: FindingAnswer;
  settings: StageSettings;
  onSettings: (settings: StageSettings) => void;
  pointer: readonly [number, number] | null;
  measured: readonly (readonly [number, number])[];
  onClearMeasured: () => void;
  discharge: readonly [number, number] | null;
  tNs: number;
}) {
  const { t, numbers } = useWords();
  const { pass, pose, trueRangeM, rangeSigmaM } = drawing;
  const { model } = pass.registration;
  const trueInverse = 1 / trueRangeM;
  const inverse = settings.inverseRangePerM ?? trueInverse;
  const target = pose >= 0 ? intoCamera(pass.colourPoses, pose, placeInPictures(finding)) : null;
  const shift = target ? parallaxPx(drawing, target, inverse) : null;
  const focalPx = Math.sqrt(model.colour.fxPx * model.colour.fyPx);
  const peak = drawing.levels.length > 0 ? drawing.levels[0]! / 0.8 : 0;
  const set = (change: Partial<StageSettings>) => onSettings({ ...settings, ...change });
  const measure =
    measured.length === 2 && target ? measuredBetween(model, measured[0]!, measured[1]!, target, rangeSigmaM) : null;
  const toDischarge =
    measured.length > 0 && discharge && target
      ? measuredBetween(model, measured[0]!, discharge, target, rangeSigmaM)
      : null;
  const rangeText =
    inverse < 1e-5 ? t('evidence.rangeInfinite') : t('evidence.rangeValue', { m: numbers.significant(1 / inverse, 4) });
  return (
    // biome-ignore lint/a11y/noNoninteractiveTabindex: it scrolls, so keys must reach it
    <aside className="evidence-panel" tabIndex={0} aria-label={t('evidence.layers')}>
      <section>
        <h2>{t('evidence.range')}</h2>
        <div className="row">
          <output className="figure big">{rangeText}</output>
          <button
            type="button"
            className="keep-right"
            aria-pressed={settings.inverseRangePerM === null}
            onClick={() => set({ inverseRangePerM: null })}
          >
            {t('evidence.rangeTrue')}
          </button>
        </div>
        <input
          type="range"
          aria-label={t('evidence.range')}
          aria-valuetext={rangeText}
          min={0}
          max={1 / NEAREST_M}
          step={1 / NEAREST_M / 2000}
          value={inverse}
          onChange={(event) => set({ inverseRangePerM: Number(event.target.value) })}
        />
        <div className="slider-ends small soft" aria-hidden="true">
          <span>∞</span>
          <span>{t('evidence.rangeValue', { m: NEAREST_M })}</span>
        </div>
        <p className="small">
          {t('evidence.rangeIs', {
            m: numbers.fixed(trueRangeM, 2),
            s: numbers.significant(Math.max(rangeSigmaM, 1e-3), 2),
          })}
        </p>
        <p className="small soft" role="status">
          {shift === null || settings.inverseRangePerM === null
            ? t('evidence.parallaxNone')
            : t('evidence.parallax', {
                px: numbers.fixed(shift, 1),
                cm: numbers.significant((100 * shift * trueRangeM) / focalPx, 2),
              })}
        </p>
      </section>
      <section>
        <h2>{t('evidence.layers')}</h2>
        <label className="field">
          {t('evidence.accumulate')}
          <select value={settings.accumulateS} onChange={(event) => set({ accumulateS: Number(event.target.value) })}>
            {ACCUMULATE_S.map((s) => (
              <option key={s} value={s}>
                {t('evidence.seconds', { s: numbers.asGiven(s, 2) })}
              </option>
            ))}
          </select>
        </label>
        <div className="ticks">
          {(
            [
              ['lines', t('evidence.lines')],
              ['dots', t('evidence.dots')],
              ['marks', t('evidence.marks')],
              ['follow', t('evidence.follow')],
            ] as const
          ).map(([key, word]) => (
            <label key={key} className="tick" title={key === 'follow' ? t('evidence.followWhy') : undefined}>
              <input type="checkbox" checked={settings[key]} onChange={(e) => set({ [key]: e.target.checked })} />
              {word}
            </label>
          ))}
        </div>
        <label className="field">
          {t('evidence.brightness')}
          <input
            type="range"
            min={0.2}
            max={1.6}
            step={0.05}
            value={settings.brightness}
            onChange={(event) => set({ brightness: Number(event.target.value) })}
          />
        </label>
        <p className="small soft">
          {t('evidence.eventCount', { n: numbers.integer(drawing.events?.count ?? 0) })}
          {peak > 0 &&
            `. ${t('evidence.kernel', {
              k: numbers.significant(drawing.kernelPx, 2),
              shares: drawing.levels.map((level) => numbers.percent(level / peak)).join(', '),
              peak: numbers.significant(peak, 2),
            })}`}
        </p>
      </section>
      <section>
        <h2>{t('evidence.measure')}</h2>
        <div className="row">
          <button
            type="button"
            aria-pressed={settings.measuring}
            onClick={() => set({ measuring: !settings.measuring })}
          >
            {t(settings.measuring ? 'evidence.measureOff' : 'evidence.measureOn')}
          </button>
          {measured.length > 0 && (
            <button type="button" className="plain" onClick={onClearMeasured}>
              {t('evidence.measureClear')}
            </button>
          )}
        </div>
        <p role="status">
          {measure
            ? t('evidence.measureValue', {
                m: numbers.fixed(measure.distanceM, 3),
                s: numbers.significant(measure.sigmaM, 2),
                r: numbers.fixed(trueRangeM, 1),
              })
            : settings.measuring && <span className="soft">{t('evidence.measureHow')}</span>}
        </p>
        {toDischarge && (
          <p className="small soft">{t('evidence.measureDischarge', { m: numbers.fixed(toDischarge.distanceM, 3) })}</p>
        )}
      </section>
      <PointerReading drawing={drawing} at={pointer} inverseRangePerM={inverse} />
      <UvFrame pass={pass} tNs={tNs} />
      <CheckOverlay table={pass.table} model={model} inverseRangePerM={inverse} />
    </aside>
  );
}

/** How far the overlay of the target moves when its range is set to another than the true one, colour pixels. */
function parallaxPx(
  drawing: StageDrawing,
  targetInUvM: readonly [number, number, number],
  inverse: number,
): number | null {
  const { model } = drawing.pass.registration;
  const px = projectPoint(targetInUvM, model.uv);
  if (!px) return null;
  const [u, v] = px;
  const here = colourPxFromUv(model, u, v, 1 / norm(targetInUvM));
  const there = colourPxFromUv(model, u, v, inverse);
  return here && there ? Math.hypot(here[0] - there[0], here[1] - there[1]) : null;
}
