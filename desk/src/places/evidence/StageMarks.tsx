import { roundLengthM } from '../../../../src/report/scaleBar.ts';
import type { PictureView } from '../../overlay/OverlayScene.ts';
import { useWords } from '../../words/useWords.ts';

/** What lies over the picture in lines of its own: the discharge, its ellipse, what is measured, the scale. */
export function StageMarks({
  view,
  ellipse,
  measured,
  aiming,
  metresPerPx,
  screenU,
  screenV,
}: {
  view: PictureView;
  ellipse: { u: number; v: number; a: number; b: number; angleDeg: number } | null;
  measured: readonly (readonly [number, number])[];
  aiming: boolean;
  /** Metres that a colour pixel spans at the discharge. */
  metresPerPx: number | null;
  screenU: (u: number) => number;
  screenV: (v: number) => number;
}) {
  const { numbers } = useWords();
  const x = ellipse ? screenU(ellipse.u) : 0;
  const y = ellipse ? screenV(ellipse.v) : 0;
  const cross = [
    [1, 0],
    [-1, 0],
    [0, 1],
    [0, -1],
  ]
    .map(([dx, dy]) => `M${x + 9 * dx!} ${y + 9 * dy!}L${x + 21 * dx!} ${y + 21 * dy!}`)
    .join('');
  const barM = metresPerPx ? roundLengthM((120 * metresPerPx) / view.scale) : null;
  const bar = barM && metresPerPx ? (barM / metresPerPx) * view.scale : 0;
  const foot = view.heightPx - 14;
  return (
    <svg className="stage-marks" width={view.widthPx} height={view.heightPx} aria-hidden="true">
      {ellipse && (
        <>
          {ellipse.a * view.scale > 3 && (
            <ellipse
              className="halo-line"
              cx={x}
              cy={y}
              rx={ellipse.a * view.scale}
              ry={ellipse.b * view.scale}
              transform={`rotate(${ellipse.angleDeg} ${x} ${y})`}
            />
          )}
          {ellipse.a * view.scale > 3 && (
            <ellipse
              className="mark-line"
              strokeDasharray="5 3"
              cx={x}
              cy={y}
              rx={ellipse.a * view.scale}
              ry={ellipse.b * view.scale}
              transform={`rotate(${ellipse.angleDeg} ${x} ${y})`}
            />
          )}
          <path className="halo-line" d={cross} />
          <path className="mark-line" d={cross} />
        </>
      )}
      {measured.length > 0 && (
        <>
          {measured.length === 2 &&
            (['halo-line', 'mark-line'] as const).map((name) => (
              <path
                key={name}
                className={name}
                d={`M${screenU(measured[0]![0])} ${screenV(measured[0]![1])}L${screenU(measured[1]![0])} ${screenV(measured[1]![1])}`}
              />
            ))}
          {measured.map(([u, v]) => (
            <g key={`${u} ${v}`}>
              <circle className="halo-line" cx={screenU(u)} cy={screenV(v)} r="5" />
              <circle className="mark-line" cx={screenU(u)} cy={screenV(v)} r="5" />
            </g>
          ))}
        </>
      )}
      {aiming && (
        <path
          className="mark-line"
          d={`M${view.widthPx / 2 - 7} ${view.heightPx / 2}h14M${view.widthPx / 2} ${view.heightPx / 2 - 7}v14`}
        />
      )}
      {barM && (
        <g>
          <rect className="bar-ground" x="8" y={foot - 20} width={Math.max(bar, 50) + 16} height="28" rx="2" />
          <path className="bar-line" d={`M16 ${foot - 6}v6h${bar}v-6`} />
          <text x="21" y={foot - 5}>
            {numbers.asGiven(barM, 2)} m
          </text>
        </g>
      )}
    </svg>
  );
}
