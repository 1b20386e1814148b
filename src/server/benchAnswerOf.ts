import { existsSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { uvPx } from '../camera/pixel.ts';
import { parseWith } from '../input/parseWith.ts';
import { RESIDUALS_FILE, residualsDocument } from '../jobs/bench/residualsFile.ts';
import { readJsonFile } from '../recording/jsonFile.ts';
import { colourFromUv, colourPxFromUv } from '../rig/colourFromUv.ts';
import { compareRegistrations } from '../rig/compareRegistrations.ts';
import { supportAt } from '../rig/support.ts';
import type { BenchAnswer } from './api/bench.ts';
import { notFound } from './problemOf.ts';
import type { KnownRegistration, RigShelf } from './RigShelf.ts';

const RANGES_M = [15, 20, 25, 30, 40, 50, 60, 80, 120, Number.POSITIVE_INFINITY];
const finite = (x: number): number | null => (Number.isFinite(x) ? x : null);

/** What is known of the registration in use. @throws HttpProblem 404 where the server was given none */
export async function benchAnswerOf(rigs: RigShelf): Promise<BenchAnswer> {
  const current = rigs.registrations.find(({ which }) => which === 'current');
  if (current?.document == null || current.file === null)
    throw notFound('The server was not given a registration.', 'Start the desk with --registration, or run the bench.');
  const { registration, document, file } = current;
  const { statistics } = document;
  const { model } = registration;
  return {
    hash: registration.hash,
    rigId: document.rigId,
    recordedUtc: document.validity.recordedUtc,
    temperatureC: document.validity.temperatureC,
    benchName: document.provenance.benchName,
    software: document.provenance.software,
    uvWidthPx: model.uv.widthPx,
    uvHeightPx: model.uv.heightPx,
    heldOutRmsPx: statistics.heldOutRmsPx,
    noiseFloorPx: statistics.noiseFloorPx,
    correspondences: statistics.correspondences,
    framesUsed: statistics.framesUsed,
    ladder: document.ladder,
    support: document.support,
    bySweep: statistics.bySweep,
    leftOut: statistics.leftOut,
    outliers: statistics.outliers,
    weaknesses: document.weaknesses,
    byRange: sigmaByRange(current),
    parallax: RANGES_M.filter(Number.isFinite).flatMap((rangeM) => {
      const [u, v] = [(model.uv.widthPx - 1) / 2, (model.uv.heightPx - 1) / 2];
      const near = colourPxFromUv(model, u, v, 1 / rangeM);
      const far = colourPxFromUv(model, u, v, 0);
      return near && far ? [{ rangeM, px: Math.hypot(near[0] - far[0], near[1] - far[1]) }] : [];
    }),
    residuals: await residualsBeside(join(dirname(file), RESIDUALS_FILE)),
    comparison: comparisonOf(current, rigs.registrations.find(({ which }) => which === 'previous') ?? null),
    certificate: existsSync(join(dirname(file), 'certificate.html')) ? '/api/bench/certificate' : null,
  };
}

function sigmaByRange({ registration }: KnownRegistration): BenchAnswer['byRange'] {
  const { widthPx, heightPx } = registration.model.uv;
  const step = Math.max(16, Math.round(widthPx / 20));
  return RANGES_M.map((rangeM) => {
    let [sum, n, worst] = [0, 0, 0];
    for (let v = 0; v < heightPx; v += step)
      for (let u = 0; u < widthPx; u += step) {
        // Whether the place is supported is asked at a range that was used; the range itself is what varies here.
        if (supportAt(registration.support, u, v, 1 / registration.support.nearestM) !== 'supported') continue;
        const mapped = colourFromUv(registration, uvPx(u, v), 1 / rangeM);
        if (mapped.kind === 'refused') continue;
        const sigma = Math.sqrt((mapped.covariancePx2[0] + mapped.covariancePx2[3]) / 2);
        sum += sigma;
        n++;
        worst = Math.max(worst, sigma);
      }
    return { rangeM: finite(rangeM), meanSigmaPx: n === 0 ? 0 : sum / n, worstSigmaPx: worst };
  });
}

function comparisonOf(now: KnownRegistration, last: KnownRegistration | null): BenchAnswer['comparison'] {
  if (last === null) return null;
  const compared = compareRegistrations(now.registration, last.registration);
  if (compared.kind === 'refused') return compared;
  return {
    kind: 'compared',
    lastHash: last.registration.hash,
    lastRecordedUtc: last.document?.validity.recordedUtc ?? null,
    at: compared.at.map(({ rangeM, ...rest }) => ({ rangeM: finite(rangeM), ...rest })),
    pValue: compared.pValue,
    moved: compared.moved,
  };
}

async function residualsBeside(file: string): Promise<BenchAnswer['residuals']> {
  if (!existsSync(file)) return null;
  const { format: _f, version: _v, ...columns } = parseWith(residualsDocument, (await readJsonFile(file)).value, file);
  return columns;
}
