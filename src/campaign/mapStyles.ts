/** How one feature layer is drawn: a rule for each value of a column, or one for all. */
interface LayerLook {
  readonly table: string;
  readonly title: string;
  readonly column: string | null;
  readonly rules: readonly { readonly value: string | null; readonly symbolizer: string }[];
}

export interface MapStyle {
  readonly table: string;
  /** Name of the file that carries it beside a report. */
  readonly file: string;
  readonly title: string;
  /** OGC Styled Layer Descriptor 1.1.0 with Symbology Encoding 1.1.0. */
  readonly sld: string;
}

const INK = '#1c1b1a';
const SOFT = '#8b8782';
/** Violet stands for ultraviolet alone. */
const VIOLET = '#6d1fc0';

const fill = (colour: string, opacity = 1): string =>
  `<se:Fill><se:SvgParameter name="fill">${colour}</se:SvgParameter><se:SvgParameter name="fill-opacity">${opacity}</se:SvgParameter></se:Fill>`;
const stroke = (colour: string, width: number, dashes?: string): string =>
  `<se:Stroke><se:SvgParameter name="stroke">${colour}</se:SvgParameter><se:SvgParameter name="stroke-width">${width}</se:SvgParameter>${
    dashes === undefined ? '' : `<se:SvgParameter name="stroke-dasharray">${dashes}</se:SvgParameter>`
  }</se:Stroke>`;
const mark = (shape: string, filled: string, line: string, size: number): string =>
  `<se:PointSymbolizer><se:Graphic><se:Mark><se:WellKnownName>${shape}</se:WellKnownName>${filled}${line}</se:Mark><se:Size>${size}</se:Size></se:Graphic></se:PointSymbolizer>`;
const line = (of: string): string => `<se:LineSymbolizer>${of}</se:LineSymbolizer>`;
const dot = (size: number, opacity: number): string => mark('circle', fill(VIOLET, opacity), stroke(VIOLET, 1.2), size);

/** Urgency by size and filling, so that it shows without telling colours apart. */
const LOOKS: readonly LayerLook[] = [
  {
    table: 'findings',
    title: 'Findings by priority',
    column: 'priority',
    rules: [
      { value: 'act now', symbolizer: dot(16, 1) },
      { value: 'plan soon', symbolizer: dot(13, 1) },
      { value: 'next maintenance', symbolizer: dot(11, 0.45) },
      { value: 'watch', symbolizer: dot(9, 0) },
      { value: 'as expected in this weather', symbolizer: dot(6, 0) },
      { value: 'not a finding', symbolizer: mark('cross', fill(SOFT), stroke(SOFT, 1), 6) },
    ],
  },
  {
    table: 'changes',
    title: 'What became of each finding',
    column: 'change',
    rules: [
      { value: 'new', symbolizer: mark('star', fill(VIOLET), stroke(VIOLET, 1), 14) },
      { value: 'grown', symbolizer: mark('triangle', fill(VIOLET), stroke(VIOLET, 1), 13) },
      { value: 'unchanged', symbolizer: mark('circle', fill(VIOLET, 0), stroke(VIOLET, 1.2), 10) },
      { value: 'faded', symbolizer: mark('circle', fill(VIOLET, 0.3), stroke(VIOLET, 1), 7) },
      { value: 'gone', symbolizer: mark('x', fill(INK), stroke(INK, 1.2), 10) },
      { value: 'not comparable', symbolizer: mark('square', fill(SOFT, 0), stroke(SOFT, 1), 8) },
    ],
  },
  {
    table: 'discharges',
    title: 'Discharges',
    column: null,
    rules: [{ value: null, symbolizer: mark('circle', fill(VIOLET, 0.2), stroke(VIOLET, 0.6), 5) }],
  },
  {
    table: 'structures',
    title: 'Structures',
    column: 'kind',
    rules: [
      { value: 'tension', symbolizer: mark('square', fill(INK), stroke(INK, 1), 8) },
      { value: 'suspension', symbolizer: mark('square', fill('#ffffff'), stroke(INK, 1), 8) },
    ],
  },
  {
    table: 'conductors',
    title: 'Conductors',
    column: 'kind',
    rules: [
      { value: 'conductor', symbolizer: line(stroke(INK, 1)) },
      { value: 'earth wire', symbolizer: line(stroke(SOFT, 0.7)) },
    ],
  },
  {
    table: 'components',
    title: 'Components',
    column: null,
    rules: [{ value: null, symbolizer: line(stroke(INK, 1.6)) }],
  },
  {
    table: 'coverage',
    title: 'Coverage',
    column: 'state',
    rules: [
      { value: 'finding', symbolizer: line(stroke(VIOLET, 3)) },
      { value: 'clear', symbolizer: line(stroke(SOFT, 1.5)) },
      { value: 'not seen', symbolizer: line(stroke(INK, 3, '2 3')) },
    ],
  },
  {
    table: 'flight_tracks',
    title: 'Flights',
    column: null,
    rules: [{ value: null, symbolizer: line(stroke(SOFT, 1, '6 4')) }],
  },
];

function sldOf({ table, title, column, rules }: LayerLook): string {
  const rule = ({ value, symbolizer }: LayerLook['rules'][number]): string => {
    const name = value ?? title;
    const filter =
      column === null || value === null
        ? ''
        : `<ogc:Filter><ogc:PropertyIsEqualTo><ogc:PropertyName>${column}</ogc:PropertyName><ogc:Literal>${value}</ogc:Literal></ogc:PropertyIsEqualTo></ogc:Filter>`;
    return `<se:Rule><se:Name>${name}</se:Name><se:Description><se:Title>${name}</se:Title></se:Description>${filter}${symbolizer}</se:Rule>`;
  };
  return `<?xml version="1.0" encoding="UTF-8"?>
<StyledLayerDescriptor version="1.1.0" xmlns="http://www.opengis.net/sld" xmlns:se="http://www.opengis.net/se" xmlns:ogc="http://www.opengis.net/ogc">
<NamedLayer><se:Name>${table}</se:Name><UserStyle><se:Name>${table}</se:Name><se:FeatureTypeStyle>
${rules.map(rule).join('\n')}
</se:FeatureTypeStyle></UserStyle></NamedLayer>
</StyledLayerDescriptor>
`;
}

/** Styles of the feature layers of a campaign, as they also stand in its table `layer_styles`. */
export const MAP_STYLES: readonly MapStyle[] = LOOKS.map((look) => ({
  table: look.table,
  file: `style-${look.table.replace('_', '-')}.sld`,
  title: look.title,
  sld: sldOf(look),
}));
