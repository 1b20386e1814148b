import { connectionLost, connectionMade, connectionNow, revisionHeard } from './connection.ts';
import { refreshAll } from './resource.ts';

/** Hears of every change of the campaign, whoever made it, and asks again for what is on view. Call once. */
export function listenForChanges(): void {
  let source: EventSource | null = null;
  const open = (): void => {
    source?.close();
    source = new EventSource('/api/changes');
    source.addEventListener('open', () => {
      const wasOffline = !connectionNow().online;
      connectionMade();
      if (wasOffline) refreshAll();
    });
    source.addEventListener('revision', (event) => {
      const { revision } = JSON.parse((event as MessageEvent<string>).data) as { revision: string };
      const before = connectionNow().revision;
      revisionHeard(revision);
      if (before !== null && before !== revision) refreshAll();
    });
    source.addEventListener('error', () => {
      // The browser retries by itself unless the server refused; then we do.
      if (source?.readyState === EventSource.CLOSED) setTimeout(probe, 2000);
      else void probe();
    });
  };
  const probe = async (): Promise<void> => {
    try {
      const answer = await fetch('/api/campaign', { credentials: 'same-origin' });
      if (answer.status === 401) return;
      connectionMade();
      if (source?.readyState === EventSource.CLOSED) open();
    } catch {
      connectionLost();
      setTimeout(probe, 2000);
    }
  };
  open();
}
