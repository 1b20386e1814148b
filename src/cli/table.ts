/** A plain text table: columns as wide as their widest cell, two spaces between, numbers to the right. */
export function table(header: readonly string[], rows: readonly (readonly string[])[]): string {
  const widths = header.map((title, i) => Math.max(title.length, ...rows.map((row) => row[i]?.length ?? 0)));
  const numeric = header.map(
    (_, i) => rows.length > 0 && rows.every((row) => /^[-+]?[\d.,]*( ?%)?$/.test(row[i] ?? '')),
  );
  const line = (cells: readonly string[]): string =>
    cells
      .map((cell, i) => (numeric[i] ? cell.padStart(widths[i]) : cell.padEnd(widths[i])))
      .join('  ')
      .trimEnd();
  return [line(header), widths.map((w) => '-'.repeat(w)).join('  '), ...rows.map(line)].join('\n');
}
