/**
 * The floors of src/, lowest first: the order in which a photon becomes a finding. A floor may import floors
 * listed before it and never one listed after it, so that each can be read, tested and replaced knowing only what
 * lies below.
 */
const floors = [
  'input',
  'maths',
  'earth',
  'time',
  'camera',
  'recording',
  'trajectory',
  'rig',
  'photon',
  'sighting',
  'line',
  'place',
  'grade',
  'campaign',
  'report',
  'jobs',
  'server',
  'cli',
];

/** Floors that compute: arrays in, arrays out. They may name the types of recording/ but not open files. */
const pureFloors = ['input', 'maths', 'earth', 'time', 'camera', 'trajectory', 'rig', 'photon', 'sighting', 'line', 'place', 'grade'];

const upward = floors.map((floor, i) => ({
  name: `${floor}-looks-down-only`,
  severity: 'error',
  comment:
    `src/${floor} may import only the floors below it. Whatever it needs from later on the photon's way has to ` +
    'come in as an argument; otherwise the measurement starts to depend on what is done with its result.',
  from: { path: `^src/${floor}/` },
  to: { path: `^src/(${[...floors.slice(i + 1), 'simulate'].join('|')})/` },
}));

module.exports = {
  forbidden: [
    ...upward.filter((rule) => !rule.name.startsWith('cli-') && !rule.name.startsWith('jobs-') && !rule.name.startsWith('server-')),
    {
      name: 'jobs-looks-down-only',
      severity: 'error',
      comment: 'A job is run by the command and by the server alike; it knows neither.',
      from: { path: '^src/jobs/' },
      to: { path: '^src/(server|cli)/' },
    },
    {
      name: 'the-invented-world-stands-alone',
      severity: 'error',
      comment:
        'simulate/ may import maths/ only. If it shared the lens, the geodesy or a file writer with the measuring ' +
        'side, an error in the shared part would cancel out, and the accuracy we publish would be fiction.',
      from: { path: '^src/simulate/' },
      to: { path: '^src/(?!simulate/|maths/)' },
    },
    {
      name: 'only-the-shell-invents',
      severity: 'error',
      comment: 'Nothing that measures may know the invented world; only the job that renders it and tests of truth may.',
      from: { path: '^src/(?!simulate/|jobs/|cli/)', pathNot: '\\.test\\.ts$' },
      to: { path: '^src/simulate/' },
    },
    {
      name: 'pure-floors-open-no-files',
      severity: 'error',
      comment: 'A computing floor takes arrays and returns arrays. Files, processes and the network belong to the shell.',
      from: { path: `^src/(${pureFloors.join('|')})/`, pathNot: '\\.test\\.ts$' },
      to: { path: '^(node:)?(fs|fs/promises|child_process|net|http|https|worker_threads|readline)$' },
    },
    {
      name: 'pure-floors-take-types-only-from-recording',
      severity: 'error',
      comment: 'A computing floor may name a type of recording/, never run its code: reading files is the job\'s business.',
      from: { path: `^src/(${pureFloors.join('|')})/`, pathNot: '\\.test\\.ts$' },
      to: { path: '^src/(recording|campaign)/', dependencyTypesNot: ['type-only'] },
    },
    {
      name: 'the-desk-knows-the-server-by-its-answers',
      severity: 'error',
      comment:
        'desk/ runs in a browser: of the server it may name the types of requests and answers (src/server/api), of the pure ' +
        'floors it may run the few that draw and measure on the screen. Everything else it has to ask for over the API, ' +
        'which the command and other programs can use as well.',
      from: { path: '^desk/src/' },
      to: {
        path: '^src/',
        pathNot: [
          '^src/(maths|earth|camera)/',
          '^src/grade/Grade\\.ts$',
          '^src/line/LineModel\\.ts$',
          '^src/rig/(colourFromUv|lookUpTable|Registration)\\.ts$',
          '^src/report/(numberText|reasonWords|componentLabel|scaleBar|contourLines|photonDensity)\\.ts$',
          '^src/report/words/',
        ],
        dependencyTypesNot: ['type-only'],
      },
    },
    {
      name: 'the-desk-names-only-the-api-of-the-server',
      severity: 'error',
      comment: 'The contract with the server is src/server/api; what lies behind it may change without asking the desk.',
      from: { path: '^desk/src/' },
      to: { path: '^src/(server/(?!api/)|jobs|cli|campaign|recording)/' },
    },
    {
      name: 'nothing-looks-into-the-desk',
      severity: 'error',
      comment: 'The desk is a guest of the API like any other program: nothing in src/ may depend on it.',
      from: { path: '^src/' },
      to: { path: '^desk/' },
    },
    {
      name: 'no-circles',
      severity: 'error',
      comment: 'Two files that need each other are one concept, or a third one wants to come out.',
      from: {},
      to: { circular: true, viaOnly: { dependencyTypesNot: ['type-only'] } },
    },
  ],
  options: {
    doNotFollow: { path: 'node_modules' },
    tsPreCompilationDeps: true,
    tsConfig: { fileName: 'tsconfig.json' },
    enhancedResolveOptions: { exportsFields: ['exports'], conditionNames: ['import', 'node', 'default', 'types'] },
  },
};
