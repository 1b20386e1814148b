import { isIP } from 'node:net';

/** Whether a host that is listened on can be reached from this machine alone. */
export function isLoopback(host: string): boolean {
  if (host === 'localhost' || host === '::1') return true;
  return isIP(host) === 4 && host.startsWith('127.');
}

/** Host headers under which this server answers, lower case. Any other name that leads here was not given by us. */
export function namesOf(host: string, port: number): ReadonlySet<string> {
  const names = isLoopback(host) ? ['localhost', '127.0.0.1', '[::1]', host] : [host];
  return new Set(
    names.flatMap((name) => {
      const bare = isIP(name) === 6 ? `[${name}]` : name.toLowerCase();
      return port === 443 || port === 80 ? [bare, `${bare}:${port}`] : [`${bare}:${port}`];
    }),
  );
}
