import { join } from 'node:path';
import type { JobRequest } from './api/jobs.ts';
import type { DeskContext } from './DeskContext.ts';
import { HttpProblem, notFound } from './problemOf.ts';

/** The command line of a job: names turned into the paths that the server was given, outputs beside the campaign. */
export function jobWords(
  {
    options,
    flights,
    benches,
    earlier,
    campaign,
  }: Pick<DeskContext, 'options' | 'flights' | 'benches' | 'earlier' | 'campaign'>,
  request: JobRequest,
): { readonly words: readonly string[]; readonly subject: string } {
  const given = (option: string, file: string | null): string[] => (file === null ? [] : [option, file]);
  const rig = (): string[] => {
    if (options.rigFile === null)
      throw new HttpProblem({
        type: 'refused',
        title: 'The rig is not known',
        status: 422,
        detail: 'This needs rig.json of the rig that flew.',
        todo: 'Start the desk with --rig.',
      });
    return ['--rig', options.rigFile];
  };
  switch (request.kind) {
    case 'inspect':
      return {
        subject: request.flight,
        words: [
          ...['inspect', flights.pathOf(request.flight), '--campaign', options.campaignFile, ...rig()],
          ...given('--line', options.lineFile),
          ...given('--registration', options.registrationFile),
          ...given('--mounting', options.mountingFile),
          ...['--alarms', String(request.falseAlarmsPerHour ?? 1)],
          ...(request.again ? ['--again'] : []),
        ],
      };
    case 'bench':
      return {
        subject: request.bench,
        words: [
          ...['bench', benches.pathOf(request.bench), ...rig()],
          ...['--out', join(`${campaign.stem}.bench`, request.bench.replace(/[^\p{L}\p{N}._-]+/gu, '-'))],
        ],
      };
    case 'check':
      return {
        subject: request.flight,
        words: [
          ...['check', flights.pathOf(request.flight), ...rig()],
          ...given('--line', options.lineFile),
          ...given('--registration', options.registrationFile),
        ],
      };
    case 'report': {
      const language = request.language ?? 'en';
      return {
        subject: language,
        words: ['report', options.campaignFile, '--out', `${campaign.stem}.report-${language}`, '--language', language],
      };
    }
    case 'compare': {
      const file = earlier.get(request.earlier);
      if (file === undefined)
        throw notFound(
          `The server was not given an earlier campaign '${request.earlier}'.`,
          'Start the desk with --earlier and its file.',
        );
      return { subject: request.earlier, words: ['compare', file, options.campaignFile] };
    }
    case 'export': {
      const as = request.as ?? 'folder';
      const out = `${campaign.stem}.hand-over${as === 'zip' ? '.zip' : ''}`;
      return { subject: as, words: ['export', options.campaignFile, '--evidence', out] };
    }
  }
}
