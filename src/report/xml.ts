/** Attribute values: numbers are rounded to micrometres of paper, which keeps files small and bytes equal. */
type Attributes = Readonly<Record<string, string | number | undefined>>;

/** Control characters other than tab and line ends have no place in XML 1.0, not even escaped. */
const escapeXml = (text: string) =>
  Array.from(text, (c) => (c < ' ' && c !== '\t' && c !== '\n' && c !== '\r' ? ' ' : c))
    .join('')
    .replace(/[&<>"']/g, (c) => `&#${c.charCodeAt(0)};`);

export const round3 = (x: number) => Math.round(x * 1000) / 1000 + 0;

export function element(name: string, attributes: Attributes, ...children: string[]): string {
  const list = Object.entries(attributes)
    .filter(([, value]) => value !== undefined)
    .map(([key, value]) => ` ${key}="${typeof value === 'number' ? round3(value) : escapeXml(value as string)}"`)
    .join('');
  return children.length === 0 ? `<${name}${list}/>` : `<${name}${list}>${children.join('')}</${name}>`;
}

/** An element that holds nothing but text, escaped. */
export const leaf = (name: string, text: string, attributes: Attributes = {}): string =>
  element(name, attributes, escapeXml(text));

export const textElement = (attributes: Attributes, text: string): string =>
  element('text', { 'font-family': 'Inter', ...attributes }, escapeXml(text));

/** A path through points given by turns as x, y. */
export function pathData(points: ArrayLike<number>, closed = false): string {
  let d = '';
  for (let k = 0; k + 1 < points.length; k += 2)
    d += `${k === 0 ? 'M' : 'L'}${round3(points[k]!)} ${round3(points[k + 1]!)}`;
  return closed ? `${d}Z` : d;
}

/** A drawing of this size on paper; one user unit is `unitMm` millimetres. */
export function drawing(widthMm: number, heightMm: number, content: readonly string[], unitMm = 1): string {
  return element(
    'svg',
    {
      xmlns: 'http://www.w3.org/2000/svg',
      width: `${round3(widthMm)}mm`,
      height: `${round3(heightMm)}mm`,
      viewBox: `0 0 ${round3(widthMm / unitMm)} ${round3(heightMm / unitMm)}`,
    },
    ...content,
  );
}
