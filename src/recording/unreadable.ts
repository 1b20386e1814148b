/** Why the file system refused, in plain words. */
export function unreadable(error: unknown): string {
  const code = (error as NodeJS.ErrnoException).code;
  if (code === 'ENOENT' || code === 'ENOTDIR') return 'no such file';
  if (code === 'EACCES' || code === 'EPERM') return 'no permission to read it';
  if (code === 'EISDIR') return 'a folder';
  return `a file that cannot be read (${code ?? String(error)})`;
}
