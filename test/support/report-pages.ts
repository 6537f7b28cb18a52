import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import type { AxeResults } from 'axe-core';
import { type Browser, type Page, chromium as playwright } from 'playwright-core';
import { htmlReport } from '../../src/report/html/page.js';
import type { Report } from '../../src/report/report.js';
import { type Summary, summarise } from '../../src/report/summary.js';
import { hostile, hostileNames } from '../report/hostile-report.js';
import { checkCardFile } from './check-card.js';

/** Reports of real cards as files, and a real browser (chromium) that knows nothing of the other tests. */
export interface ReportPages {
  readonly browser: Browser;
  /** The address of each page: `fit`, `refused`, `overloaded`, `open`, `hostile`, `summary`. */
  readonly urls: Readonly<Record<string, string>>;
  close(): Promise<void>;
}

const sample = (name: string): string => join(import.meta.dirname, '../../samples/cards', `${name}.img.gz`);
const tansy = { release: 'tansy-31', installed: '31', supply: '24V/6.5A' };

export async function openReportPages(): Promise<ReportPages> {
  const folder = mkdtempSync(join(tmpdir(), 'flashworthy-'));
  const urls: Record<string, string> = {};
  const save = (name: string, report: Report | Summary): void => {
    const path = join(folder, `${name}.html`);
    writeFileSync(path, htmlReport(report, { width: 80, color: false, verbose: false }));
    urls[name] = pathToFileURL(path).href;
  };
  const fit = await checkCardFile(sample('tansy-fit'), tansy);
  const refused = await checkCardFile(sample('burr-cluster-size'), { board: 'burr', set: 'panel=none' });
  const open = await checkCardFile(sample('tansy-fit'), { release: 'tansy-31' });
  save('fit', fit);
  save('refused', refused);
  save('overloaded', await checkCardFile(sample('tansy-large-supply'), tansy));
  save('open', open);
  save('hostile', hostile);
  const unchecked = hostileNames.map((path) => ({ path, exit: 66, text: `${path}: there is no such file` }));
  save('summary', summarise('0.1.0', [fit, refused, open, hostile], unchecked));
  const browser = await playwright.launch({
    executablePath: '/usr/bin/chromium',
    args: [
      '--no-sandbox',
      '--disable-gpu',
      '--disable-quic',
      '--no-first-run',
      '--disable-background-networking',
      '--disable-component-update',
      '--disable-sync',
    ],
  });
  return {
    browser,
    urls,
    close: async () => {
      await browser.close();
      rmSync(folder, { recursive: true, force: true });
    },
  };
}

/** Opens every fold, also those inside others. */
export const unfold = (page: Page): Promise<unknown> =>
  page.evaluate('for (const each of document.querySelectorAll("details")) each.open = true');

const axe = createRequire(import.meta.url).resolve('axe-core/axe.min.js');

/**
 * What axe-core finds wrong on a page at each width: folded when narrow, else unfolded. The page's own policy lets no
 * script in, so the context must be one with `bypassCSP`.
 */
export async function axeFaults(page: Page, url: string, widths: readonly number[]): Promise<string[]> {
  const faults: string[] = [];
  await page.goto(url);
  await page.addScriptTag({ path: axe });
  for (const width of widths) {
    await page.setViewportSize({ width, height: 900 });
    if (width >= 1000) await unfold(page);
    const { violations } = (await page.evaluate('axe.run()')) as AxeResults;
    for (const { id, nodes } of violations) faults.push(`${width}: ${id}: ${nodes[0]?.html}`);
  }
  return faults;
}
