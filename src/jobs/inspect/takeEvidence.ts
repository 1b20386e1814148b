import sharp from 'sharp';
import { uvPx } from '../../camera/pixel.ts';
import { projectPoint } from '../../camera/projectPoint.ts';
import type { EvidenceRecord } from '../../campaign/records.ts';
import type { LocalFrame } from '../../earth/LocalFrame.ts';
import { distance, norm, subtract, type Vec3 } from '../../maths/vec3.ts';
import { colourFromUv } from '../../rig/colourFromUv.ts';
import type { Registration } from '../../rig/Registration.ts';
import type { EventRays, FramePoses } from '../../sighting/EventRays.ts';
import { pointInUvM } from '../../sighting/framePoses.ts';
import type { Sighting } from '../../sighting/Sighting.ts';
import { utcFromStamp } from '../../time/utcFromStamp.ts';
import type { InspectableFlight } from './openAnyFlight.ts';
import { overlayEvents } from './overlayEvents.ts';

/** Everything a picture of a discharge is made from. `colourPoses` are poses of the uv camera at the colour exposures. */
export interface EvidenceSources {
  readonly flight: InspectableFlight;
  readonly frame: LocalFrame;
  readonly registration: Registration;
  readonly rays: EventRays;
  readonly colourPoses: FramePoses;
  /** Where the discharge lies that a row of `rays` belongs to; null where it belongs to none. */
  readonly ownerOf: (row: number) => Vec3 | null;
}

/** Half the width of the cut-out at the discharge's range, metres: hardware and what it hangs from. */
const REACH_M = 3;
/** Rays this long before and after the picture are laid over it. */
const ACCUMULATED_S = 2;

/**
 * One picture of a discharge from one pass: of the colour frames that hold it, the nearest to the middle of the image, with
 * the photon events of the seconds around it carried to its instant and mapped by the registration at their range.
 * @returns null where no colour frame of the pass holds the discharge
 */
export async function takeEvidence(
  sources: EvidenceSources,
  dischargeId: string,
  positionEnuM: Vec3,
  rangeSigmaM: number,
  sighting: Sighting,
): Promise<EvidenceRecord | null> {
  const { flight, registration, rays, colourPoses, frame } = sources;
  const { colour } = registration.model;
  let best: { pose: number; px: readonly [number, number]; sigmaPx: number; offCentrePx: number } | null = null;
  for (let pose = 0; pose < colourPoses.count; pose++) {
    if (colourPoses.tNs[pose] < sighting.fromNs || colourPoses.tNs[pose] > sighting.toNs) continue;
    const inUvM = pointInUvM(colourPoses, pose, positionEnuM);
    const uv = projectPoint(inUvM, registration.model.uv);
    if (!uv) continue;
    const rangeM = norm(inUvM);
    const mapped = colourFromUv(registration, uvPx(uv[0], uv[1]), 1 / rangeM, rangeSigmaM / rangeM ** 2);
    if (mapped.kind === 'refused') continue;
    const [u, v] = mapped.px;
    if (u < 0 || v < 0 || u > colour.widthPx - 1 || v > colour.heightPx - 1) continue;
    const offCentrePx = Math.hypot(u - colour.widthPx / 2, v - colour.heightPx / 2);
    const sigmaPx = Math.sqrt((mapped.covariancePx2[0] + mapped.covariancePx2[3]) / 2);
    if (!best || offCentrePx < best.offCentrePx) best = { pose, px: [u, v], sigmaPx, offCentrePx };
  }
  if (!best) return null;

  const { pose, px } = best;
  const inUvM = pointInUvM(colourPoses, pose, positionEnuM);
  const rangeM = norm(inUvM);
  const tNs = colourPoses.tNs[pose];
  const rows: number[] = [];
  for (let row = 0; row < rays.count; row++) if (Math.abs(rays.tNs[row] - tNs) <= ACCUMULATED_S * 1e9) rows.push(row);
  const overlaid = overlayEvents(
    rays,
    rows,
    sources.ownerOf,
    positionEnuM,
    colourPoses,
    pose,
    registration.model.uv,
    REACH_M,
  );
  const eventsColourPx = overlaid.uv.flatMap((at, i) => {
    const mapped = colourFromUv(registration, at, overlaid.inverseRangePerM[i], 0);
    return mapped.kind === 'mapped' ? [round(mapped.px[0]), round(mapped.px[1])] : [];
  });

  const entry = flight.colourIndex[colourPoses.frame[pose]];
  const picture = await flight.readColour(entry);
  const half = Math.max(120, Math.round((REACH_M * colour.fxPx) / rangeM));
  const left = clamp(Math.round(px[0]) - half, 0, picture.widthPx - 2);
  const top = clamp(Math.round(px[1]) - half, 0, picture.heightPx - 2);
  const width = Math.min(2 * half, picture.widthPx - left);
  const height = Math.min(2 * half, picture.heightPx - top);
  const colourJpeg = await sharp(picture.data, {
    raw: { width: picture.widthPx, height: picture.heightPx, channels: 3 },
  })
    .extract({ left, top, width, height })
    .jpeg({ quality: 90 })
    .toBuffer();

  const o = 3 * pose;
  const cameraEnuM: Vec3 = [colourPoses.originEnuM[o], colourPoses.originEnuM[o + 1], colourPoses.originEnuM[o + 2]];
  const [east, north, up] = subtract(positionEnuM, cameraEnuM);
  return {
    findingId: dischargeId,
    flight: flight.description.name,
    utc: utcFromStamp(flight.description.epoch, tNs),
    colourFrame: entry.frame,
    rangeM: distance(cameraEnuM, positionEnuM),
    colourJpeg,
    cropLeftPx: left,
    cropTopPx: top,
    cropWidthPx: width,
    cropHeightPx: height,
    eventsColourPx,
    dischargeColourPx: [round(px[0]), round(px[1])],
    overlaySigmaPx: best.sigmaPx,
    colourFocalPx: Math.sqrt(colour.fxPx * colour.fyPx),
    accumulatedS: 2 * ACCUMULATED_S,
    cameraLlh: frame.llhFromEnu(cameraEnuM),
    viewAzimuthDeg: ((Math.atan2(east, north) * 180) / Math.PI + 360) % 360,
    viewElevationDeg: (Math.atan2(up, Math.hypot(east, north)) * 180) / Math.PI,
  };
}

const round = (px: number): number => Math.round(px * 100) / 100;
const clamp = (x: number, low: number, high: number): number => Math.min(Math.max(x, low), high);
