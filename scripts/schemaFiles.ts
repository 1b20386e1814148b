import { z } from 'zod';
import { ruleTable } from '../src/grade/RuleTable.ts';
import { residualsDocument } from '../src/jobs/bench/residualsFile.ts';
import { lineFile } from '../src/line/lineFile.ts';
import { lineMapping } from '../src/line/lineMapping.ts';
import { lineTemplateFile } from '../src/line/lineTemplateFile.ts';
import { responseDocument } from '../src/photon/response/responseFile.ts';
import { benchDescription } from '../src/recording/BenchDescription.ts';
import { flightDescription } from '../src/recording/FlightDescription.ts';
import { trajectoryMapping } from '../src/recording/mapped/TrajectoryMapping.ts';
import { rigDescription } from '../src/recording/RigDescription.ts';
import { seriesDescription } from '../src/recording/SeriesDescription.ts';
import { findingsDocument } from '../src/report/findingsDocument.ts';
import { mountingDocument } from '../src/rig/mountingFile.ts';
import { registrationDocument } from '../src/rig/registrationFile.ts';

/** What is checked on reading (findings: before writing), by the name of the file that describes it to others. */
const SOURCES: Readonly<Record<string, { readonly title: string; readonly schema: z.ZodType }>> = {
  'rig.schema.json': { title: 'Corposant rig, version 1', schema: rigDescription },
  'flight.schema.json': { title: 'Corposant flight, version 1', schema: flightDescription },
  'trajectory-mapping.schema.json': { title: 'Corposant trajectory mapping, version 1', schema: trajectoryMapping },
  'bench.schema.json': { title: 'Corposant bench run, version 1', schema: benchDescription },
  'series.schema.json': { title: 'Corposant gain series, version 1', schema: seriesDescription },
  'response.schema.json': { title: 'Corposant camera response', schema: responseDocument },
  'registration.schema.json': { title: 'Corposant registration', schema: registrationDocument },
  'residuals.schema.json': { title: 'Corposant residuals of a bench run', schema: residualsDocument },
  'mounting.schema.json': { title: 'Corposant mounting', schema: mountingDocument },
  'line.schema.json': { title: 'Corposant line model, version 1', schema: lineFile },
  'line-template.schema.json': { title: 'Corposant line template', schema: lineTemplateFile },
  'line-mapping.schema.json': { title: 'Corposant line mapping, version 1', schema: lineMapping },
  'rules.schema.json': { title: 'Corposant table of priority rules', schema: ruleTable },
  'findings.schema.json': { title: 'Corposant findings', schema: findingsDocument },
};

/**
 * Texts of the files in schemas/ (JSON Schema, draft 2020-12), made from the schemas that the readers check with, so that
 * the two cannot drift apart. `npx vitest run tests/schemas.test.ts --update` writes them.
 */
export function schemaFiles(): ReadonlyMap<string, string> {
  const texts = new Map<string, string>();
  for (const [name, { title, schema }] of Object.entries(SOURCES)) {
    const { $schema, ...rest } = z.toJSONSchema(schema, { io: 'input' });
    texts.set(name, `${JSON.stringify({ $schema, title, ...rest }, null, 2)}\n`);
  }
  return texts;
}
