import { bench } from './bench.ts';
import { evidence } from './evidence.ts';
import { findings } from './findings.ts';
import { flight } from './flight.ts';
import { jobs } from './jobs.ts';
import { line } from './line.ts';
import { plan } from './plan.ts';
import { shell } from './shell.ts';

/** The desk's words in English, by place. Terms that the report prints as well come from its own catalogue. */
export const en = { shell, line, evidence, findings, flight, bench, plan, jobs };
