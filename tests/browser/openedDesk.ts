import { type ChildProcess, spawn } from 'node:child_process';
import { cpSync, existsSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { type Browser, type BrowserContext, chromium, type Page } from 'playwright-core';
import { bin } from '../inventedCampaign.ts';

const CHROMIUM = ['/usr/bin/chromium', '/usr/bin/chromium-browser'].find(existsSync);

/** Debian's browser; the GPU is SwiftShader, so that WebGL2 is there on a machine without one, or there is none at all. */
export function launchBrowser(gpu: 'software' | 'none' = 'software'): Promise<Browser> {
  if (!CHROMIUM) throw new Error('No /usr/bin/chromium: npm test installs it, or apt-get install chromium.');
  return chromium.launch({
    executablePath: CHROMIUM,
    args:
      gpu === 'none'
        ? ['--disable-gpu', '--disable-webgl']
        : ['--use-angle=swiftshader', '--enable-unsafe-swiftshader'],
  });
}

export interface StartedDesk {
  /** With the key that lets decide. */
  readonly address: string;
  readonly origin: string;
  stop(): Promise<void>;
}

/** `corposant desk` as a user starts it, on a port of its own. */
export async function startDesk(campaign: string, words: readonly string[]): Promise<StartedDesk> {
  const child: ChildProcess = spawn(process.execPath, [bin, 'desk', campaign, '--port', '0', ...words]);
  const address = await new Promise<string>((resolve, reject) => {
    let said = '';
    child.stdout!.on('data', (text: Buffer) => {
      said += String(text);
      const found = /https?:\/\/\S+/.exec(said)?.[0];
      if (found) resolve(found);
    });
    child.stderr!.on('data', (text: Buffer) => {
      said += String(text);
    });
    child.on('exit', (code) => reject(new Error(`corposant desk ended with ${code}: ${said}`)));
  });
  return {
    address,
    origin: new URL(address).origin,
    stop: () =>
      new Promise((resolve) => {
        if (child.exitCode !== null) return resolve();
        child.on('exit', () => resolve());
        child.kill('SIGTERM');
        // A browser that still listens for changes must not keep a test waiting.
        setTimeout(() => child.kill('SIGKILL'), 2000).unref();
      }),
  };
}

/** A copy of a campaign with its events beside it: reviews are written to it. */
export function copiedCampaign(from: string): { file: string; remove: () => void } {
  const folder = mkdtempSync(path.join(tmpdir(), 'corposant-desk-'));
  const file = path.join(folder, 'campaign.gpkg');
  cpSync(from, file);
  const events = from.replace(/\.gpkg$/, '.events');
  if (existsSync(events)) cpSync(events, path.join(folder, 'campaign.events'), { recursive: true });
  return { file, remove: () => rmSync(folder, { recursive: true, force: true }) };
}

export interface Look {
  readonly theme?: 'day' | 'night';
  readonly language?: 'en' | 'de';
  readonly size?: { readonly width: number; readonly height: number };
  readonly reviewer?: string;
}

/** A page of the desk in a browser profile of its own, already allowed to decide. */
export async function openPage(browser: Browser, desk: StartedDesk, look: Look = {}): Promise<Page> {
  const context: BrowserContext = await browser.newContext({
    viewport: look.size ?? { width: 1280, height: 720 },
    locale: look.language === 'de' ? 'de-DE' : 'en-GB',
    reducedMotion: 'reduce',
  });
  await context.addInitScript(
    ([theme, language, reviewer]) => {
      localStorage.setItem('corposant.theme', theme!);
      localStorage.setItem('corposant.language', language!);
      if (reviewer) localStorage.setItem('corposant.reviewer', reviewer);
    },
    [look.theme ?? 'day', look.language ?? 'en', look.reviewer ?? ''] as const,
  );
  const page = await context.newPage();
  page.setDefaultTimeout(30_000);
  await page.goto(desk.address);
  await page.getByRole('navigation').waitFor();
  return page;
}

/** Goes to an address of the desk and waits until nothing on the page says that it is loading. */
export async function goTo(page: Page, hash: string): Promise<void> {
  await page.evaluate((to) => {
    location.hash = to;
  }, hash);
  await settled(page);
}

export async function settled(page: Page): Promise<void> {
  await page.waitForFunction(
    () => document.querySelector('main') !== null && document.querySelector('.notice.loading') === null,
  );
  // Lazy parts put a loading notice up one frame after the address has changed.
  await page.evaluate(() => new Promise((resolve) => requestAnimationFrame(() => requestAnimationFrame(resolve))));
  await page.waitForFunction(() => document.querySelector('.notice.loading') === null);
}
