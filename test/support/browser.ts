/** Pages opened in a real browser, with the network off. */
import { existsSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { type Browser, chromium, type Page } from 'playwright-core';
import { afterAll, beforeAll, describe, it } from 'vitest';

const PLACES = ['/usr/bin/chromium', '/usr/bin/chromium-browser'];

const MISSING =
  'there is no Chromium to open report pages with: install it with "sudo apt-get install chromium" (Debian, Ubuntu), or name ' +
  'one in the environment variable ROWFOCUS_CHROMIUM';

/** Software WebGL, so that the view in space is drawn without a graphics card; and nothing that would look for a network. */
const ARGUMENTS = [
  '--headless',
  '--no-sandbox',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
  '--use-angle=swiftshader',
  '--enable-unsafe-swiftshader',
];

function findChromium(): string | null {
  const named = process.env.ROWFOCUS_CHROMIUM;
  const places = named === undefined || named === '' ? PLACES : [named];
  return places.find((place) => existsSync(place)) ?? null;
}

/** What a page did that it should not: messages, errors, requests. */
export interface OpenedPage {
  readonly page: Page;
  readonly console: string[];
  readonly requests: string[];
}

export interface BrowserTools {
  /** Opens the HTML text from disk. */
  readonly open: (html: string, options?: OpenOptions) => Promise<OpenedPage>;
}

export interface OpenOptions {
  readonly width?: number;
  readonly height?: number;
  readonly script?: boolean;
  readonly touch?: boolean;
  /** Script that runs before the page's own, e.g. to take WebGL away. */
  readonly before?: string;
}

/**
 * Tests that need a browser. Without one they fail where `CI` is set, and are skipped elsewhere with a title that says how to
 * get one.
 */
export function describeInBrowser(title: string, tests: (tools: BrowserTools) => void): void {
  const program = findChromium();
  if (program === null) {
    if (process.env.CI === undefined || process.env.CI === '') {
      // Skipped tests are not listed one by one.
      console.warn(`${title}: not run, as ${MISSING}`);
      describe.skip(`${title}: not run, ${MISSING}`, () => {
        it('needs Chromium', () => {});
      });
      return;
    }
    describe(title, () => {
      it('finds Chromium', () => {
        throw new Error(MISSING);
      });
    });
    return;
  }
  describe(title, () => {
    const folder = mkdtempSync(join(tmpdir(), 'page-'));
    let browser: Browser | null = null;
    const opened: Page[] = [];
    beforeAll(async () => {
      browser = await chromium.launch({ executablePath: program, args: ARGUMENTS });
    });
    afterAll(async () => {
      await browser?.close();
      rmSync(folder, { recursive: true, force: true });
    });
    tests({
      open: async (html, options = {}) => {
        if (browser === null) throw new Error('the browser has not started');
        for (const page of opened.splice(0)) await page.context().close();
        const file = join(folder, 'page.html');
        writeFileSync(file, html);
        const context = await browser.newContext({
          viewport: { width: options.width ?? 1280, height: options.height ?? 900 },
          offline: true,
          javaScriptEnabled: options.script !== false,
          hasTouch: options.touch === true,
          acceptDownloads: true,
        });
        if (options.before !== undefined) await context.addInitScript(options.before);
        const page = await context.newPage();
        opened.push(page);
        const console: string[] = [];
        const requests: string[] = [];
        page.on('console', (message) => console.push(`${message.type()}: ${message.text()}`));
        page.on('pageerror', (error) => console.push(`error: ${error.message}`));
        page.on('dialog', (dialog) => {
          console.push(`dialog: ${dialog.message()}`);
          void dialog.dismiss();
        });
        page.on('request', (request) => {
          const address = request.url();
          if (address !== pathToFileURL(file).href && !address.startsWith('data:')) requests.push(address);
        });
        await page.goto(pathToFileURL(file).href);
        return { page, console, requests };
      },
    });
  });
}
