import type { Words } from '../Words.ts';
import { bench } from './bench.ts';
import { evidence } from './evidence.ts';
import { findings } from './findings.ts';
import { flight } from './flight.ts';
import { jobs } from './jobs.ts';
import { line } from './line.ts';
import { plan } from './plan.ts';
import { shell } from './shell.ts';

export const de: Words = { shell, line, evidence, findings, flight, bench, plan, jobs };
