import { useMemo } from 'react';
import type { EvidenceOfFinding } from '../../server/answers.ts';
import { useWords } from '../../words/useWords.ts';
import { PictureStage } from './PictureStage.tsx';
import { usualSettings } from './StageSettings.ts';
import { useKeptPicture } from './useKeptPicture.ts';

/** One kept picture on a stage of its own. */
export function KeptStage({ evidence, windowM }: { evidence: EvidenceOfFinding; windowM?: number }) {
  const { t } = useWords();
  const { picture, drawn } = useKeptPicture(evidence);
  const from = useMemo(
    () => [evidence.cropLeftPx, evidence.cropTopPx] as const,
    [evidence.cropLeftPx, evidence.cropTopPx],
  );
  const [u, v] = evidence.dischargeColourPx;
  // Side by side both show the same width of hardware, with the discharge in the middle.
  const halfPx = windowM && evidence.colourFocalPx ? (windowM * evidence.colourFocalPx) / evidence.rangeM / 2 : null;
  const window = useMemo(
    () => ({
      size: halfPx
        ? { widthPx: 2 * halfPx, heightPx: 2 * halfPx }
        : { widthPx: evidence.cropWidthPx, heightPx: evidence.cropHeightPx },
      from: halfPx ? ([u - halfPx, v - halfPx] as const) : from,
    }),
    [halfPx, u, v, from, evidence.cropWidthPx, evidence.cropHeightPx],
  );
  const drawing = useMemo(
    () => ({
      picture: picture === 'none' ? null : picture,
      events: drawn!.events,
      inverseRangePerM: null,
      kernelPx: drawn!.kernelPx,
      levels: drawn!.levels,
      trueRangeM: evidence.rangeM,
    }),
    [picture, drawn, evidence.rangeM],
  );
  const sigma = 2.4477 * evidence.overlaySigmaPx;
  return (
    <PictureStage
      drawing={drawing}
      table={null}
      pictureSize={window.size}
      lookFrom={window.from}
      pictureFrom={from}
      settings={usualSettings}
      ellipse={{ u, v, a: sigma, b: sigma, angleDeg: 0 }}
      focalPx={evidence.colourFocalPx}
      measured={[]}
      onPoint={null}
      note={picture === 'none' ? t('evidence.noPicture') : null}
      waiting={picture === null}
    />
  );
}
