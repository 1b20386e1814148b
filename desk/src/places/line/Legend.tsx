import type { ReactNode } from 'react';
import { useWords } from '../../words/useWords.ts';

const INK = 'var(--ink)';
const MARK = 'var(--ink-mark)';
const VIOLET = 'var(--ultraviolet)';
const PAPER = 'var(--paper)';

/** Drawn by hand with the same shapes as the sheet; every state differs in shape and not in hue alone. */
export function Legend() {
  const { t } = useWords();
  const rows: [ReactNode, string][] = [
    [
      <rect key="a" x="9.5" y="4.5" width="9" height="9" fill={PAPER} stroke={INK} strokeWidth="1.5" />,
      t('line.legendSuspension'),
    ],
    [
      <rect key="a" x="9.5" y="4.5" width="9" height="9" fill={INK} stroke={INK} strokeWidth="1.5" />,
      t('line.legendTension'),
    ],
    [<path key="a" d="M7 2l14 14M7 16L21 2" stroke={INK} />, t('line.legendNotSeenAt')],
    [<path key="a" d="M2 9h24" stroke={VIOLET} strokeWidth="2" />, t('line.legendFinding')],
    [<path key="a" d="M2 9h24" stroke={INK} strokeWidth="1.25" />, t('line.legendClear')],
    [<path key="a" d="M2 9h24" stroke={MARK} strokeWidth="1.25" strokeDasharray="2 3" />, t('line.legendNotSeen')],
    [<circle key="a" cx="14" cy="9" r="4.5" fill={VIOLET} />, t('line.legendUrgent')],
    [<circle key="a" cx="14" cy="9" r="4.5" fill={PAPER} stroke={VIOLET} strokeWidth="1.75" />, t('line.legendOther')],
    [
      <g key="a" fill={PAPER} stroke={VIOLET}>
        <circle cx="14" cy="9" r="4.5" strokeWidth="1.75" />
        <path d="M11.8 9l1.8 2 3-4" strokeWidth="1.5" fill="none" />
      </g>,
      t('line.legendConfirmed'),
    ],
    [
      <g key="a" fill={PAPER} stroke={VIOLET}>
        <circle cx="14" cy="9" r="4.5" strokeWidth="1.75" />
        <path d="M11.6 9h4.8" strokeWidth="1.5" />
      </g>,
      t('line.legendRejected'),
    ],
    [
      <ellipse
        key="a"
        cx="14"
        cy="9"
        rx="11"
        ry="6"
        fill={VIOLET}
        fillOpacity="0.12"
        stroke={VIOLET}
        strokeWidth="1.25"
      />,
      t('line.legendEllipse'),
    ],
    [<path key="a" d="M2 9h24" stroke={MARK} strokeDasharray="7 4" />, t('line.legendTrack')],
    [<circle key="a" cx="14" cy="9" r="1.6" fill={VIOLET} />, t('line.legendSighting')],
    [<circle key="a" cx="14" cy="9" r="2.2" fill="none" stroke={MARK} strokeWidth="0.9" />, t('line.legendSuspect')],
  ];
  return (
    <section>
      <h2>{t('line.legend')}</h2>
      <ul className="legend">
        {rows.map(([shape, words]) => (
          <li key={words}>
            <svg width="28" height="18" viewBox="0 0 28 18" aria-hidden="true">
              {shape}
            </svg>
            {words}
          </li>
        ))}
      </ul>
    </section>
  );
}
