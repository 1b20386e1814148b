/**
 * The command prints an address that ends in a key. It is changed for a cookie once, and leaves the address bar before
 * anything else is drawn; without it the desk is for reading.
 */
export async function openSession(): Promise<void> {
  const key = /^#key=(.+)$/.exec(location.hash)?.[1];
  if (!key) return;
  history.replaceState(null, '', '#/');
  try {
    await fetch('/api/session', {
      method: 'POST',
      credentials: 'same-origin',
      headers: { 'content-type': 'application/json' },
      body: JSON.stringify({ key: decodeURIComponent(key) }),
    });
  } catch {
    // Whether the server answers is told by the shell, which asks for the campaign next.
  }
}
