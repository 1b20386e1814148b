import { useEffect, useMemo, useState } from 'react';
import { densityLevels, kernelFor } from '../../overlay/densityLevels.ts';
import type { EvidenceOfFinding } from '../../server/answers.ts';
import { ask } from '../../server/ask.ts';

/** A picture that the campaign keeps, ready for the stage; `picture` is null until it is there, 'none' where it cannot be read. */
export function useKeptPicture(evidence: EvidenceOfFinding | null) {
  const [picture, setPicture] = useState<ImageBitmap | 'none' | null>(null);
  const image = evidence?.image ?? null;
  useEffect(() => {
    setPicture(null);
    if (!image) return;
    let wanted = true;
    ask(image)
      .then(async (answer) => createImageBitmap(await answer.blob()))
      .then((bitmap) => (wanted ? setPicture(bitmap) : bitmap.close()))
      .catch(() => wanted && setPicture('none'));
    return () => {
      wanted = false;
    };
  }, [image]);
  const drawn = useMemo(() => {
    if (!evidence) return null;
    const points = evidence.eventsColourPx;
    const kernelPx = kernelFor(points, evidence.dischargeColourPx, evidence.overlaySigmaPx);
    return {
      kernelPx,
      levels: densityLevels(points, evidence.dischargeColourPx, kernelPx),
      events: {
        count: points.length / 2,
        px: Float32Array.from(points),
        inverseRangePerM: new Float32Array(points.length / 2).fill(1 / evidence.rangeM),
        alreadyColour: true,
      },
    };
  }, [evidence]);
  return { picture, drawn };
}
