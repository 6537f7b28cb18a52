import type { Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { visible } from '../../src/rules/visible.js';
import { hostileNames } from '../report/hostile-report.js';
import { axeFaults, openReportPages, type ReportPages, unfold } from '../support/report-pages.js';

let pages: ReportPages;
beforeAll(async () => {
  pages = await openReportPages();
});
afterAll(() => pages?.close());

/** Runs a test on one of the pages, in a tab of its own. */
async function on(name: string, test: (page: Page) => Promise<void>): Promise<void> {
  const page = await pages.browser.newPage();
  try {
    await page.goto(pages.urls[name]!);
    await test(page);
  } finally {
    await page.close();
  }
}

describe('the HTML report in a browser', () => {
  // All pages, light and dark, folded and unfolded: test/long/html-accessibility.test.ts.
  it('has no fault that axe-core knows: the page of a refused card on a small screen', async () => {
    const context = await pages.browser.newContext({ bypassCSP: true });
    expect(await axeFaults(await context.newPage(), pages.urls.refused!, [320])).toEqual([]);
    await context.close();
  });

  it('asks for nothing, runs nothing, keeps its own policy, and never scrolls sideways', async () => {
    const context = await pages.browser.newContext();
    const page = await context.newPage();
    const told: string[] = [];
    const asked: string[] = [];
    page.on('console', (message) => told.push(message.text()));
    page.on('pageerror', (error) => told.push(error.message));
    page.on('dialog', (dialog) => {
      told.push(dialog.message());
      void dialog.dismiss();
    });
    page.on('request', (request) => asked.push(request.url()));
    for (const url of Object.values(pages.urls)) {
      await page.goto(url);
      // The style is in force: a policy whose digest is not that of the style would leave the page bare.
      expect(await page.evaluate('getComputedStyle(document.querySelector(".verdict")).display')).toBe(
        'grid',
      );
      await unfold(page);
      for (const width of [320, 768, 1280, 1600]) {
        await page.setViewportSize({ width, height: 900 });
        const over = await page.evaluate('document.documentElement.scrollWidth - innerWidth');
        expect(over, `${url} ${width}`).toBeLessThanOrEqual(0);
      }
    }
    expect(told).toEqual([]);
    expect(asked).toEqual(Object.values(pages.urls));
    await context.close();
  });

  it('shows hostile names as text, each character that cannot be seen written out', () =>
    on('hostile', async (page) => {
      const shown = await page.$$eval('.fault:first-of-type .offenders bdi', (all) =>
        all.map((each) => each.textContent),
      );
      expect(shown).toEqual(hostileNames.map(visible));
      expect(await page.$$('script, img, iframe, object, [style], [onerror], [onload]')).toEqual([]);
      expect(await page.$$eval('a', (all) => all.filter(({ protocol }) => protocol !== 'file:'))).toEqual([]);
      expect(await page.title()).toContain(visible(hostileNames[1]));
    }));

  it('leads the keyboard to every fold and every link, and opens what they lead to', () =>
    on('summary', async (page) => {
      const wanted = await page.$$eval(
        'a, details:not(details details) > summary',
        (all) => all.filter((each) => each.checkVisibility()).length,
      );
      const reached = new Set<string>();
      for (let step = 0; step < wanted; step++) {
        await page.keyboard.press('Tab');
        reached.add(
          String(
            await page.evaluate(
              '[...document.querySelectorAll("a, summary")].indexOf(document.activeElement)',
            ),
          ),
        );
      }
      expect(reached.has('-1')).toBe(false);
      expect(reached.size).toBe(wanted);
      // The line of the table leads into the folded report.
      await page.focus('a[href="#r2-verdict"]');
      await page.keyboard.press('Enter');
      await page.waitForFunction('document.querySelector("#r2-verdict").checkVisibility()');
      await page.focus('#r2-verdict ~ .columns .way > summary');
      await page.keyboard.press('Enter');
      expect(await page.isVisible('#r2-verdict ~ .columns .way[open] .steps')).toBe(true);
    }));

  it('names its pictures for who does not see them', () =>
    on('refused', async (page) => {
      const tree = await page.locator('main').ariaSnapshot();
      expect(tree).toMatch(/img "The card from its first byte to its last, not to scale"/);
      expect(tree).toMatch(/img "The memory of the processor/);
      expect(tree).toMatch(/heading "REFUSED: Do not put this card into the machine\." \[level=1\]/);
    }));

  it('prints the steps and the explanations unfolded, and leaves out the long lists', () =>
    on('refused', async (page) => {
      expect(await page.isVisible('.way .steps')).toBe(false);
      await page.emulateMedia({ media: 'print' });
      const unseen = await page.$$eval(
        '.fault .steps, .fault details p',
        (all) =>
          all.filter(
            (each) =>
              !each.checkVisibility({ contentVisibilityAuto: true }) ||
              each.getBoundingClientRect().height === 0,
          ).length,
      );
      expect(unseen).toBe(0);
      expect(await page.isVisible('.deep')).toBe(false);
    }));
});
