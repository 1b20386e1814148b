import type { PlanAnswer } from '../../../../src/server/api/plan.ts';
import type { LineAnswer } from '../../server/answers.ts';
import { useWords } from '../../words/useWords.ts';

type Planned = Extract<PlanAnswer, { kind: 'planned' }>;
type PlanRow = Planned['rows'][number];

/** Parts of the error of one ray, and their sum in quadrature. */
export function BudgetDrawing({ row }: { row: PlanRow }) {
  const { t, told, numbers } = useWords();
  const all = [
    ...row.budget.parts.map((part) => ({ ...part, name: told(part.name) })),
    { name: t('plan.budgetAll'), sigmaM: row.budget.acrossM },
  ];
  const most = Math.max(...all.map(({ sigmaM }) => sigmaM));
  const label = all.map(({ name, sigmaM }) => `${name} ${numbers.fixed(1000 * sigmaM, 0)} mm`).join(', ');
  return (
    <svg viewBox={`0 0 640 ${all.length * 24 + 12}`} role="img" aria-label={label}>
      {all.map(({ name, sigmaM }, i) => (
        <g key={name} transform={`translate(0 ${i * 24 + 8})`}>
          <text x="200" y="13" textAnchor="end">
            {name}
          </text>
          <rect
            className="fill"
            x="210"
            y="3"
            width={Math.max(1, (340 * sigmaM) / most)}
            height="12"
            opacity={i === all.length - 1 ? 1 : 0.6}
          />
          <text x={218 + (340 * sigmaM) / most} y="13">
            {numbers.fixed(1000 * sigmaM, 0)} mm
          </text>
        </g>
      ))}
    </svg>
  );
}

/** Across the line, to scale: the aircraft, the depth of the hardware, and what the ultraviolet image covers. */
export function SectionDrawing({ row, depthM }: { row: PlanRow; depthM: number }) {
  const { t, numbers } = useWords();
  const wide = row.standoffM + depthM + 6;
  const half = row.uvSwathM.upM / 2;
  const atFar = (half * (row.standoffM + depthM)) / row.standoffM;
  const high = 2 * atFar + 6;
  const middle = high / 2;
  const px = wide / 640;
  const told = `${t('plan.side')}: ${numbers.fixed(row.standoffM, 0)} m, ${t('plan.swathValue', {
    along: numbers.fixed(row.uvSwathM.alongM, 1),
    up: numbers.fixed(row.uvSwathM.upM, 1),
  })}`;
  return (
    <svg viewBox={`-2 0 ${wide} ${high}`} role="img" aria-label={told}>
      <polygon
        className="seen"
        points={`0,${middle} ${row.standoffM + depthM},${middle - atFar} ${row.standoffM + depthM},${middle + atFar}`}
      />
      <rect className="bold" x={row.standoffM} y={middle - half} width={depthM} height={2 * half} />
      <circle className="fill" cx="0" cy={middle} r={5 * px} />
      <text x={8 * px} y={middle - 8 * px} style={{ fontSize: `${12 * px}px` }}>
        {t('plan.aircraft')}
      </text>
      <text x={row.standoffM} y={middle - half - 4 * px} style={{ fontSize: `${12 * px}px` }}>
        {t('plan.hardware')}, {numbers.fixed(row.standoffM, 0)} m
      </text>
    </svg>
  );
}

/** The line and the passes beside it, north up. */
export function PassesDrawing({
  line,
  passes,
}: {
  line: LineAnswer;
  passes: Extract<Planned['passes'], { kind: 'proposed' }>;
}) {
  const { t, numbers } = useWords();
  const places = [
    ...line.structures.map(({ footEnuM }) => footEnuM),
    ...passes.passes.flatMap(({ waypoints }) => waypoints.map(({ positionEnuM }) => positionEnuM)),
  ];
  const [east, north] = [places.map(([e]) => e), places.map(([, n]) => n)];
  const room = 30;
  const [left, right] = [Math.min(...east) - room, Math.max(...east) + room];
  const [bottom, top] = [Math.min(...north) - room, Math.max(...north) + room];
  const px = Math.max((right - left) / 640, (top - bottom) / 380);
  const at = ([e, n]: readonly number[]): string => `${e - left},${top - n}`;
  return (
    <>
      <svg viewBox={`0 0 ${right - left} ${top - bottom}`} role="img" aria-label={t('plan.passes')}>
        <polyline className="thin" points={line.structures.map(({ footEnuM }) => at(footEnuM)).join(' ')} />
        {line.structures.map(({ id, footEnuM }) => (
          <g key={id}>
            <rect
              className="fill"
              x={footEnuM[0] - left - 3 * px}
              y={top - footEnuM[1] - 3 * px}
              width={6 * px}
              height={6 * px}
            />
            <text x={footEnuM[0] - left + 6 * px} y={top - footEnuM[1] - 5 * px} style={{ fontSize: `${12 * px}px` }}>
              {id}
            </text>
          </g>
        ))}
        {passes.passes.map(({ name, waypoints }) => (
          <g key={name}>
            <polyline className="bold" points={waypoints.map(({ positionEnuM }) => at(positionEnuM)).join(' ')} />
            {waypoints.map(({ positionEnuM }) => (
              <circle
                key={positionEnuM.join()}
                className="fill"
                cx={positionEnuM[0] - left}
                cy={top - positionEnuM[1]}
                r={2 * px}
              />
            ))}
          </g>
        ))}
      </svg>
      <ul>
        {passes.passes.map(({ name, lengthM, clearanceM, nearestId }) => (
          <li key={name}>
            {t('plan.pass', {
              name,
              length: numbers.fixed(lengthM, 0),
              clearance: numbers.fixed(clearanceM, 1),
              nearest: nearestId,
            })}
          </li>
        ))}
      </ul>
    </>
  );
}
