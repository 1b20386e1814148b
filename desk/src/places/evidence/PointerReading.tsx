import { colourPx } from '../../../../src/camera/pixel.ts';
import { rayFromPixel } from '../../../../src/camera/rayFromPixel.ts';
import { uvFromColour } from '../../../../src/rig/colourFromUv.ts';
import { intoEnu } from '../../overlay/PassPoses.ts';
import { useWords } from '../../words/useWords.ts';
import type { StageDrawing } from './StageDrawing.ts';

const DEG = 180 / Math.PI;

/** What is under the pointer: both pixels, the angles, and how well the overlay holds there. */
export function PointerReading({
  drawing,
  at,
  inverseRangePerM,
}: {
  drawing: StageDrawing;
  at: readonly [number, number] | null;
  inverseRangePerM: number;
}) {
  const { t, numbers } = useWords();
  const { pass, pose, trueRangeM, rangeSigmaM } = drawing;
  const { model } = pass.registration;
  const pairs: [string, string][] = [];
  if (at) {
    const [u, v] = at;
    const inside = u >= -0.5 && v >= -0.5 && u <= model.colour.widthPx - 0.5 && v <= model.colour.heightPx - 0.5;
    pairs.push([
      t('evidence.colourPixel'),
      t('evidence.pixelValue', { u: numbers.fixed(u, 1), v: numbers.fixed(v, 1) }),
    ]);
    const back = inside
      ? uvFromColour(
          pass.registration,
          colourPx(u, v),
          inverseRangePerM,
          rangeSigmaM * inverseRangePerM * inverseRangePerM,
        )
      : null;
    if (back?.kind === 'mapped') {
      const ray = rayFromPixel(back.px, model.uv);
      pairs.push([
        t('evidence.uvPixel'),
        t('evidence.pixelValue', { u: numbers.fixed(back.px[0], 1), v: numbers.fixed(back.px[1], 1) }),
      ]);
      if (ray) {
        pairs.push([
          t('evidence.offAxis'),
          `${numbers.fixed(Math.atan2(Math.hypot(ray[0], ray[1]), ray[2]) * DEG, 2)}°`,
        ]);
        if (pose >= 0) {
          const [e, n, up] = intoEnu(pass.colourPoses, pose, ray);
          pairs.push([
            t('evidence.direction'),
            t('evidence.directionValue', {
              a: numbers.fixed((Math.atan2(e, n) * DEG + 360) % 360, 2),
              e: numbers.fixed(Math.atan2(up, Math.hypot(e, n)) * DEG, 2),
            }),
          ]);
        }
      }
      const sigma = Math.sqrt((back.covariancePx2[0] + back.covariancePx2[3]) / 2);
      const colourPerUv = model.colour.fxPx / model.uv.fxPx;
      if (Number.isFinite(sigma))
        pairs.push([
          t('evidence.overlaySigma'),
          `${t('evidence.sigmaValue', {
            px: numbers.significant(sigma * colourPerUv, 2),
            mm: numbers.significant((1000 * sigma * trueRangeM) / model.uv.fxPx, 2),
          })}, ${t(back.supported ? 'evidence.supported' : 'evidence.unsupported')}`,
        ]);
    }
  }
  pairs.push([
    t('evidence.onePixel'),
    t('evidence.onePixelValue', {
      mm: numbers.significant((1000 * trueRangeM) / Math.sqrt(model.colour.fxPx * model.colour.fyPx), 3),
    }),
  ]);
  return (
    <section>
      <h2>{t('evidence.under')}</h2>
      {!at && <p className="small soft">{t('evidence.noPointer')}</p>}
      <dl className="pairs">
        {pairs.map(([word, value]) => (
          <div key={word} className="pair">
            <dt>{word}</dt>
            <dd>{value}</dd>
          </div>
        ))}
      </dl>
    </section>
  );
}
