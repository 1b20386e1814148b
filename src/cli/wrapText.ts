/** Breaks a text between words into lines of at most `width` characters; lines after the first are indented. */
export function wrapText(text: string, indent = 0, width = 80): string[] {
  const lines: string[] = [];
  let line = '';
  for (const word of text.split(' ')) {
    if (line !== '' && line.length + 1 + word.length > width) {
      lines.push(line);
      line = ' '.repeat(indent) + word;
    } else line = line === '' ? word : `${line} ${word}`;
  }
  return [...lines, line];
}
